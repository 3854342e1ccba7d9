"""A token opens the API in its person's name, until it is retired."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import ApiToken, Device, Event, Membership
from inventory.problems import NotThere, Refused
from inventory.selectors.viewers import viewer_of
from inventory.services.tokens import (
    end_token,
    give_token,
    make_token,
    retire_token,
    user_of_token,
)
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_a_token_is_its_persons_and_is_not_kept() -> None:
    ines = make.member("owner")
    token = make_token(ines, " till ", ines, make.NOW)
    assert user_of_token(token, at=make.NOW) == ines
    (row,) = ApiToken.objects.all()
    assert row.name == "till"
    assert token not in row.digest
    assert Event.objects.get().changes == {"name": "till"}


def test_the_day_of_its_last_use_is_known() -> None:
    ines = make.member("owner")
    token = make_token(ines, "till", ines, make.NOW)
    assert ApiToken.objects.get().last_used_on is None
    user_of_token(token, at=make.NOW + timedelta(days=2))
    assert ApiToken.objects.get().last_used_on == make.TODAY + timedelta(days=2)


def test_a_retired_token_opens_nothing() -> None:
    ines = make.member("owner")
    token = make_token(ines, "till", ines, make.NOW)
    for _ in range(2):
        retire_token(ApiToken.objects.get(), ines, make.NOW)
    assert user_of_token(token, at=make.NOW) is None
    assert [event.verb for event in Event.objects.order_by("pk")] == ["make_token", "retire_token"]


def test_nor_does_the_token_of_somebody_who_left() -> None:
    ines = make.member("owner")
    token = make_token(ines, "till", ines, make.NOW)
    ines.is_active = False
    ines.save()
    assert user_of_token(token, at=make.NOW) is None


@pytest.mark.parametrize("made_up", ["", "x", "é" * 300])
def test_a_made_up_token_is_nobodys(made_up: str) -> None:
    assert user_of_token(made_up, at=make.NOW) is None


@pytest.mark.parametrize("role", [role for role in Membership.Role if role != "owner"])
def test_only_an_owner_makes_and_ends_them(role: str) -> None:
    ines = make.member(role)
    made = make_token(ines, "till", None, make.NOW)
    row = ApiToken.objects.get()
    with pytest.raises(Refused, match="made and ended by an owner"):
        make_token(ines, "till", ines, make.NOW)
    with pytest.raises(Refused, match="made and ended by an owner"):
        give_token(ines.username, "till", viewer=viewer_of(ines), by=ines, at=make.NOW)
    with pytest.raises(Refused, match="made and ended by an owner"):
        end_token(row.pk, viewer=viewer_of(ines), by=ines, at=make.NOW)
    with pytest.raises(Refused, match="made and ended by an owner"):
        retire_token(row, ines, make.NOW)
    assert user_of_token(made, at=make.NOW) == ines


def test_an_owner_of_one_place_or_at_a_shared_tablet_does_not() -> None:
    place = make.location()
    tablet = Device.objects.create(name="dock", token_digest="d", location=place)
    for viewer in (
        viewer_of(make.member("owner", place)),
        viewer_of(make.member("owner"), tablet),
    ):
        with pytest.raises(Refused, match="of the whole business"):
            give_token("ines", "till", viewer=viewer, by=None, at=make.NOW)


def test_an_owner_makes_one_for_another_and_ends_it() -> None:
    owner, ines = make.member("owner"), make.member("staff", make.location())
    viewer = viewer_of(owner)
    token = give_token(ines.username, " till ", viewer=viewer, by=owner, at=make.NOW)
    assert user_of_token(token, at=make.NOW) == ines
    for _ in range(2):
        end_token(ApiToken.objects.get().pk, viewer=viewer, by=owner, at=make.NOW)
    assert user_of_token(token, at=make.NOW) is None
    told = [(event.verb, event.by, event.changes) for event in Event.objects.order_by("pk")]
    assert told == [
        ("make_token", owner, {"name": "till"}),
        ("retire_token", owner, {"name": "till"}),
    ]


def test_an_owner_with_a_limit_makes_none_for_who_may_approve_more() -> None:
    owner = make.member("owner", approve_up_to=Decimal(900))
    other = make.member("manager", approve_up_to=None)
    with pytest.raises(Refused, match="may approve more than you"):
        give_token(other.username, "till", viewer=viewer_of(owner), by=owner, at=make.NOW)
    assert not ApiToken.objects.exists()


def test_whose_and_what_for_are_asked_at_once() -> None:
    viewer = viewer_of(make.member("owner"))
    with pytest.raises(Refused) as refused:
        give_token("nobody", " ", viewer=viewer, by=None, at=make.NOW)
    assert [problem.field for problem in refused.value.problems] == ["person", "name"]
    with pytest.raises(NotThere):
        end_token(1, viewer=viewer, by=None, at=make.NOW)


@pytest.mark.parametrize("name", ["", "  ", "n" * 81])
def test_it_says_what_it_is_for(name: str) -> None:
    ines = make.member("owner")
    with pytest.raises(Refused, match="what the token is for"):
        make_token(ines, name, ines, make.NOW)


def test_the_command_prints_it_once() -> None:
    ines, out = make.user(), StringIO()
    call_command("make_token", ines.username, "till", stdout=out)
    assert user_of_token(out.getvalue().strip(), at=make.NOW) == ines


def test_the_command_knows_nobody_else(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        call_command("make_token", "nobody", "till")
    assert "There is nobody called 'nobody'." in capsys.readouterr().err
