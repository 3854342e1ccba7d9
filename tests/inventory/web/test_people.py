"""Pages of people: invited, limited, ended; addresses and numbers shown once."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from inventory.models import (
    ApiToken,
    Device,
    Event,
    Location,
    Membership,
    PersonalNumber,
    Submission,
)
from tests import factories as make
from tests.at_the_desk import press, read, sign_in, text_of, told

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def boss(client: Client) -> User:
    user = make.member("owner", sees_cost=True)
    sign_in(client, user)
    return user


def shown_once(text: str) -> str:
    found = re.search(r'class="secret">([^<]+)<', text)
    assert found is not None
    return found[1]


def invited(client: Client, **more: str) -> Any:
    typed = {"username": "wen", "first_name": "Wen", "last_name": "Li", "role": "staff"}
    return press(client, reverse("invite"), **{**typed, **more})


def test_somebody_is_invited_sets_a_password_and_signs_in(
    client: Client, boss: User, place: Location
) -> None:
    answer = invited(client, place="MILL")
    assert answer.url == reverse("person", args=["wen"])
    address = shown_once(read(client, "person", "wen"))
    assert "secret" not in read(client, "person", "wen")
    other = Client()
    page: Any = other.get(address, follow=True)
    assert "You sign in as wen." in text_of(page)
    words = {"new_password1": "beet and barley", "new_password2": "beet and barley"}
    done = other.post(page.request["PATH_INFO"], words)
    assert done.headers["Location"] == reverse("sign_in")
    there = {"username": "wen", "password": "beet and barley"}
    assert other.post(reverse("sign_in"), there).status_code == 302
    assert Event.objects.filter(verb="set_password", subject="person:wen").exists()
    again: Any = Client().get(address, follow=True)
    assert "This address has been used" in text_of(again)


def test_a_weak_password_is_refused_with_all_its_faults(client: Client, boss: User) -> None:
    invited(client)
    address = shown_once(read(client, "person", "wen"))
    other = Client()
    page: Any = other.get(address, follow=True)
    answer: Any = other.post(
        page.request["PATH_INFO"], {"new_password1": "1234", "new_password2": "1234"}
    )
    assert answer.status_code == 422
    assert len(told(answer)) == 2


def test_the_address_is_nowhere_in_the_tables(client: Client, boss: User) -> None:
    invited(client)
    token = shown_once(read(client, "person", "wen")).split("/")[-2]
    kept = str([*Submission.objects.values(), *Event.objects.values()])
    assert token not in kept


def test_everything_wrong_at_once_and_all_that_was_typed(client: Client, boss: User) -> None:
    answer = invited(client, username="Wen Li", email="x", role="buyer", limit="lots")
    text = text_of(answer)
    assert answer.status_code == 422
    assert [one.split(":")[0] for one in told(answer)] == [
        "Signs in as",
        "E-mail",
        "Limit",
    ]
    assert 'value="Wen Li"' in text
    assert 'value="lots"' in text
    assert '<option value="buyer" selected>' in text


def test_without_a_role_the_rest_is_told_as_well(client: Client, boss: User) -> None:
    answer = invited(client, username="Wen Li", first_name="", email="x", role="", limit="lots")
    assert sorted(one.split(":")[0] for one in told(answer)) == [
        "Choose what they do.",
        "E-mail",
        "First name is missing.",
        "Limit",
        "Signs in as",
    ]


def test_people_are_listed_with_what_they_may(client: Client, boss: User, place: Location) -> None:
    make.member("buyer", place, approve_up_to=Decimal(900))
    text = read(client, "people")
    assert "<b>buyer</b>, Mill Lane; approves up to 900.00" in text
    assert "not signed in yet" in text


def test_a_limit_is_changed(client: Client, boss: User) -> None:
    bram = make.member("buyer", approve_up_to=Decimal(900))
    part = bram.memberships.get().pk
    press(client, reverse("part_change", args=[bram.username, part]), **{f"limit-{part}": "1200"})
    assert "approves up to 1,200.00" in read(client, "person", bram.username)


def test_a_wrong_limit_is_refused_at_its_part(client: Client, boss: User) -> None:
    bram = make.member("buyer", approve_up_to=Decimal(900))
    Membership.objects.create(user=bram, role="buyer", location=make.location())
    part = bram.memberships.order_by("pk")[0].pk
    address = reverse("part_change", args=[bram.username, part])
    answer = press(client, address, **{f"limit-{part}": "-1"})
    assert told(answer) == ["Limit: '-1' must be 0 or more."]
    assert f'id="limit-{part}" name="limit-{part}" value="-1"' in text_of(answer)


def test_a_part_is_given_and_ended(client: Client, boss: User, place: Location) -> None:
    invited(client)
    first = Membership.objects.get(user__username="wen").pk
    press(client, reverse("part_give", args=["wen"]), role="buyer", place="MILL", limit="50")
    press(client, reverse("part_end", args=["wen", first]))
    text = read(client, "person", "wen")
    assert "The part has ended." in text
    assert "approves up to 50.00" in text
    last = Membership.objects.get(user__username="wen").pk
    press(client, reverse("part_end", args=["wen", last]))
    assert "wen has no part any more and cannot sign in." in read(client, "people")
    assert "No part any more" in read(client, "people")


def test_the_last_owner_is_told_why_not(client: Client, boss: User) -> None:
    part = boss.memberships.get().pk
    answer = press(client, reverse("part_end", args=[boss.username, part]))
    assert "is the last owner. Make somebody else one first." in told(answer)[0]


def test_a_personal_number_is_shown_once(client: Client, boss: User) -> None:
    invited(client)
    read(client, "person", "wen")
    press(client, reverse("person_number", args=["wen"]))
    number = shown_once(read(client, "person", "wen"))
    assert re.fullmatch(r"\d{6}", number)
    assert number not in PersonalNumber.objects.get().digest
    assert number not in read(client, "person", "wen")


def test_a_tablet_is_added_shared_once_and_retired(
    client: Client, boss: User, place: Location
) -> None:
    press(client, reverse("device_add"), device_name="Dock tablet", device_place="MILL")
    address = shown_once(read(client, "people"))
    tablet = Client()
    assert tablet.post(address).status_code == 302
    assert Client().post(address).status_code == 404
    assert "Dock tablet" in text_of(tablet.get(reverse("sign_in")))
    press(client, reverse("device_retire"), device="Dock tablet")
    assert "Dock tablet" not in text_of(tablet.get(reverse("sign_in")))
    assert Device.objects.get().retired_on is not None


def test_a_tablet_without_a_name_is_refused(client: Client, boss: User) -> None:
    answer = press(client, reverse("device_add"), device_name=" ")
    assert answer.status_code == 422
    assert told(answer)[0].startswith("Name the device")


def test_a_token_is_made_shown_once_logged_and_ended(client: Client, boss: User) -> None:
    wen = make.member("staff")
    User.objects.filter(pk=wen.pk).update(first_name="Wen")
    typed = {"token_person": wen.username, "token_name": "till"}
    press(client, reverse("token_make"), **typed)
    token = shown_once(read(client, "people"))
    text = read(client, "people")
    assert token not in text and "<b>till</b>, in the name of Wen" in text
    ask = {"Authorization": f"Bearer {token}"}
    assert Client().get("/api/v1/locations/", headers=ask).status_code == 200
    assert "last used" in read(client, "people")
    kept = [*Submission.objects.values_list("answer", flat=True)]
    assert token not in str(kept)
    press(client, reverse("token_end", args=[ApiToken.objects.get().pk]))
    assert "The token “till” has ended: it opens nothing any more." in read(client, "people")
    assert Client().get("/api/v1/locations/", headers=ask).status_code == 401
    verbs = Event.objects.filter(by=boss, subject=f"person:{wen.username}")
    assert list(verbs.order_by("pk").values_list("verb", flat=True)) == [
        "make_token",
        "retire_token",
    ]


def test_a_token_pressed_twice_is_one(client: Client, boss: User) -> None:
    typed = {"key": "same", "token_person": boss.username, "token_name": "till"}
    for _ in range(2):
        assert client.post(reverse("token_make"), typed).status_code == 302
    assert ApiToken.objects.count() == 1


def test_a_token_without_a_person_and_a_name_is_asked_about(client: Client, boss: User) -> None:
    answer = press(client, reverse("token_make"), token_person="nobody", token_name=" ")
    assert answer.status_code == 422
    assert [one.field for one in answer.context["problems"]] == ["token_person", "token_name"]
    answer = press(client, reverse("token_make"), token_person="nobody", token_name="till")
    assert 'value="till"' in text_of(answer)


@pytest.mark.parametrize("role", ["buyer", "staff", "prep_lead", "truck_lead", "manager"])
def test_tokens_are_for_owners_alone(client: Client, boss: User, role: str) -> None:
    press(client, reverse("token_make"), token_person=boss.username, token_name="till")
    row = ApiToken.objects.get()
    sign_in(client, make.member(role))
    assert press(client, reverse("token_end", args=[row.pk])).status_code == 404
    typed = {"token_person": boss.username, "token_name": "mine"}
    assert press(client, reverse("token_make"), **typed).status_code == 404
    if role == "manager":
        text = read(client, "people")
        assert "till" not in text and "make a token" not in text
    row.refresh_from_db()
    assert (row.retired_at, ApiToken.objects.count()) == (None, 1)


@pytest.mark.parametrize("role", ["buyer", "staff", "prep_lead", "truck_lead"])
def test_others_see_no_people(client: Client, boss: User, role: str) -> None:
    sign_in(client, make.member(role))
    for name, args in (("people", []), ("invite", []), ("person", [boss.username])):
        assert client.get(reverse(name, args=args)).status_code == 404


def test_a_local_manager_sees_the_own_people(client: Client, boss: User, place: Location) -> None:
    here, there = make.member("staff", place), make.member("staff", make.location())
    sign_in(client, make.manager(place))
    text = read(client, "people")
    assert here.username in text
    assert there.username not in text
    assert client.get(reverse("person", args=[there.username])).status_code == 404
    assert "every location</option>" not in read(client, "invite")


@pytest.mark.parametrize("name", ["people", "invite", "person"])
def test_queries_do_not_grow(
    client: Client, boss: User, name: str, count_queries: Callable[..., int]
) -> None:
    address = reverse(name, args=[boss.username] if name == "person" else [])
    rows(3, boss)
    few = count_queries(client.get, address)
    rows(57, boss)
    assert count_queries(client.get, address) == few


def rows(count: int, boss: User) -> None:
    for number in range(count):
        user = make.member("staff", make.location())
        Membership.objects.create(user=boss, role="buyer", location=make.location())
        PersonalNumber.objects.create(user=user, digest=str(number), set_at=make.NOW)
        Device.objects.create(name=user.username, token_digest=user.username)
        ApiToken.objects.create(user=user, name="till", digest=user.username, created_at=make.NOW)
