"""Who is invited, limited and ended, by whom."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.contrib.auth.models import User

from inventory.models import Event, Location, Membership, PersonalNumber
from inventory.problems import NotThere, Refused
from inventory.roles import Viewer
from inventory.selectors.people import people_page
from inventory.selectors.viewers import viewer_of
from inventory.services.people import (
    TypedPart,
    TypedPerson,
    change_part,
    end_part,
    give_part,
    invite,
    note_address,
)
from tests import factories as make
from tests.factories import NOW

pytestmark = pytest.mark.django_db

WEN = TypedPerson("wen", "Wen", "Li", "wen@example.org")
STAFF = TypedPart("staff")


@pytest.fixture
def boss() -> User:
    return make.member("owner", sees_cost=True)


@pytest.fixture
def viewer(boss: User) -> Viewer:
    return viewer_of(boss)


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


def asked(viewer: Viewer, part: TypedPart = STAFF, person: TypedPerson = WEN) -> User:
    return invite(person, part, viewer=viewer, by=None, at=NOW)


def codes(refused: pytest.ExceptionInfo[Refused]) -> dict[str, str]:
    return {problem.field: problem.code for problem in refused.value.problems}


def of(user: User) -> Membership:
    return Membership.objects.get(user=user)


def end(user: User, viewer: Viewer) -> bool:
    return end_part(of(user).pk, viewer=viewer, by=None, at=NOW)


def change(user: User, viewer: Viewer, limit: str = "", *, sees_cost: bool = False) -> Membership:
    row = of(user).pk
    return change_part(row, limit=limit, sees_cost=sees_cost, viewer=viewer, by=None, at=NOW)


def test_somebody_invited_has_a_part_and_no_password_yet(viewer: Viewer, place: Location) -> None:
    user = asked(viewer, TypedPart("buyer", "MILL", "900", sees_cost=True))
    assert not user.has_usable_password()
    assert (of(user).location, of(user).approve_up_to) == (place, Decimal(900))
    event = Event.objects.get()
    assert (event.verb, event.subject) == ("invite", "person:wen")
    said = "buyer at Mill Lane, approves up to 900.00, sees costs"
    assert event.changes == {"part": ["", said]}


def test_everything_wrong_with_an_invitation_is_said_at_once(viewer: Viewer) -> None:
    person = TypedPerson("Wen Li", "", "x" * 61, "nowhere")
    with pytest.raises(Refused) as refused:
        asked(viewer, TypedPart("chef", "MOON", "much"), person)
    assert codes(refused) == {
        "username": "username",
        "first_name": "first_name",
        "last_name": "last_name",
        "email": "email",
        "place": "place",
        "role": "role",
        "limit": "limit",
    }
    assert User.objects.count() == 1


def test_signs_that_nobody_can_see_are_refused(viewer: Viewer) -> None:
    with pytest.raises(Refused) as refused:
        asked(viewer, TypedPart("staff", "\0"), TypedPerson("w\0n", "W\0n", "", "w\0@x.org"))
    assert set(codes(refused)) == {"username", "first_name", "email", "place"}


def test_a_name_to_sign_in_with_is_somebodys_for_ever(viewer: Viewer) -> None:
    end(asked(viewer), viewer)
    with pytest.raises(Refused) as refused:
        asked(viewer)
    assert codes(refused) == {"username": "username_taken"}


def test_staff_have_no_limit_to_type(viewer: Viewer) -> None:
    with pytest.raises(Refused) as refused:
        asked(viewer, TypedPart("staff", limit="100"))
    assert codes(refused) == {"limit": "no_limit_here"}


@pytest.mark.parametrize("limit", ["", "501"], ids=["no limit", "a higher one"])
def test_nobody_gives_more_than_they_have(boss: User, limit: str) -> None:
    mild = viewer_of(make.member("manager", approve_up_to=Decimal(500)))
    with pytest.raises(Refused) as refused:
        asked(mild, TypedPart("buyer", limit=limit))
    assert codes(refused) == {"limit": "above_own_limit"}
    assert asked(mild, TypedPart("buyer", limit="500"))


def test_costs_are_shown_by_those_who_see_them(boss: User) -> None:
    with pytest.raises(Refused) as refused:
        asked(viewer_of(make.manager()), TypedPart("staff", sees_cost=True))
    assert codes(refused) == {"sees_cost": "costs"}


def test_only_an_owner_makes_an_owner(viewer: Viewer) -> None:
    with pytest.raises(Refused) as refused:
        asked(viewer_of(make.manager()), TypedPart("owner"))
    assert codes(refused) == {"role": "not_allowed"}
    assert asked(viewer, TypedPart("owner"))


@pytest.mark.parametrize("code", ["", "YARD"], ids=["everywhere", "another place"])
def test_a_manager_of_one_place_invites_there_only(place: Location, code: str) -> None:
    make.location(code="YARD")
    local = viewer_of(make.manager(place))
    with pytest.raises(Refused) as refused:
        asked(local, TypedPart("staff", code))
    assert "place" in codes(refused)
    assert asked(local, TypedPart("staff", "MILL"))


def test_a_limit_is_changed_and_noted(viewer: Viewer) -> None:
    bram = make.member("buyer", approve_up_to=Decimal(900))
    change(bram, viewer, "1200", sees_cost=True)
    assert of(bram).approve_up_to == Decimal(1200)
    was, now = Event.objects.get().changes["part"]
    assert was == "buyer at every location, approves up to 900.00"
    assert now == "buyer at every location, approves up to 1,200.00, sees costs"


@pytest.mark.parametrize("limit", ["", "901"], ids=["no limit", "a higher one"])
def test_nobody_raises_their_own_limit(boss: User, limit: str) -> None:
    me = make.member("manager", approve_up_to=Decimal(900))
    with pytest.raises(Refused) as refused:
        change(me, viewer_of(me), limit)
    assert set(codes(refused)) == {"limit"}
    assert of(me).approve_up_to == Decimal(900)


def test_a_second_grant_does_not_raise_ones_own_limit_either(boss: User, place: Location) -> None:
    me = make.member("manager", approve_up_to=Decimal(900))
    Membership.objects.create(user=me, role="buyer", location=place, approve_up_to=Decimal(100))
    row = Membership.objects.get(user=me, role="buyer")
    with pytest.raises(Refused, match="Nobody raises their own limit"):
        change_part(row.pk, limit="800", sees_cost=False, viewer=viewer_of(me), by=None, at=NOW)


def test_ones_own_limit_may_be_lowered(boss: User) -> None:
    me = make.member("manager", approve_up_to=Decimal(900))
    change(me, viewer_of(me), "100")
    assert of(me).approve_up_to == Decimal(100)


def test_nobody_gives_themselves_a_part(boss: User, viewer: Viewer) -> None:
    part = TypedPart("buyer")
    with pytest.raises(Refused, match="Nobody gives themselves a part"):
        give_part(boss.username, part, viewer=viewer, by=boss, at=NOW)


def test_who_ends_may_come_back(viewer: Viewer) -> None:
    user = asked(viewer)
    PersonalNumber.objects.create(user=user, digest="x", set_at=NOW)
    assert end(user, viewer) is True
    user.refresh_from_db()
    assert not user.is_active
    assert not PersonalNumber.objects.exists()
    give_part("wen", STAFF, viewer=viewer, by=None, at=NOW)
    user.refresh_from_db()
    assert user.is_active


def test_one_part_of_two_may_end(viewer: Viewer, place: Location) -> None:
    user = asked(viewer)
    give_part("wen", TypedPart("buyer", "MILL"), viewer=viewer, by=None, at=NOW)
    first = Membership.objects.get(user=user, role="staff")
    assert end_part(first.pk, viewer=viewer, by=None, at=NOW) is False
    user.refresh_from_db()
    assert user.is_active


def test_the_same_part_is_given_once(viewer: Viewer) -> None:
    asked(viewer)
    with pytest.raises(Refused, match="Wen Li has that part there"):
        give_part("wen", STAFF, viewer=viewer, by=None, at=NOW)


def test_the_last_owner_stays(boss: User, viewer: Viewer) -> None:
    make.manager()
    with pytest.raises(Refused, match="is the last owner"):
        end(boss, viewer)
    other = make.member("owner")
    assert end(boss, viewer_of(other)) is True


def test_the_last_manager_of_everything_stays(place: Location) -> None:
    last = make.manager()
    make.manager(place)
    with pytest.raises(Refused, match="is the last who manages the whole business"):
        end(last, viewer_of(last))
    gone = make.manager()
    User.objects.filter(pk=gone.pk).update(is_active=False)
    with pytest.raises(Refused, match="is the last who manages"):
        end(last, viewer_of(last))


@pytest.mark.parametrize("role", ["manager", "owner"])
def test_a_local_manager_leaves_those_of_everywhere_alone(place: Location, role: str) -> None:
    above, local = make.member(role), viewer_of(make.manager(place))
    make.manager()
    with pytest.raises(Refused, match="a part that you do not manage"):
        end(above, local)
    with pytest.raises(Refused, match="a part that you do not manage"):
        note_address(above.username, viewer=local, by=None, at=NOW)


def test_who_works_elsewhere_is_not_there(place: Location) -> None:
    other = make.member("staff", make.location())
    local = viewer_of(make.manager(place))
    with pytest.raises(NotThere):
        end(other, local)
    assert other.username not in [one.username for one in people_page(local).people]


def test_an_address_opens_no_door_wider_than_ones_own(boss: User) -> None:
    mild = viewer_of(make.member("manager", approve_up_to=Decimal(500)))
    rich = make.member("buyer", approve_up_to=Decimal(501))
    with pytest.raises(Refused, match="may approve more than you"):
        note_address(rich.username, viewer=mild, by=None, at=NOW)


@pytest.mark.parametrize("role", ["buyer", "staff", "prep_lead", "truck_lead"])
def test_others_manage_nobody(viewer: Viewer, role: str) -> None:
    user = asked(viewer)
    other = viewer_of(make.member(role, sees_cost=True))
    with pytest.raises(NotThere):
        end(user, other)
    with pytest.raises(Refused):
        asked(other, STAFF, TypedPerson("new", "New"))
