"""Signing in: by password, by number at a shared tablet, and by one press in the demo only."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import User
from django.test import Client, override_settings
from django.urls import reverse

from inventory.models import Device, Location, PersonalNumber
from inventory.web.devices import digest_of
from tests import factories as make

pytestmark = pytest.mark.django_db
TOKEN = "long-and-random"
DEMO = override_settings(DEMO=True, DEBUG=True)


@pytest.fixture
def mill() -> Location:
    return make.location(name="Mill Lane")


def ines(place: Location | None = None, role: str = "staff") -> User:
    person = make.member(role, place)
    person.username, person.first_name = "ines", "Ines"
    person.set_password("beet and barley")
    person.save()
    digest = make_password("4071")
    PersonalNumber.objects.create(user=person, digest=digest, set_at=make.NOW)
    return person


def press(client: Client, **typed: str) -> Any:
    return client.post(reverse("sign_in"), {"username": "ines", **typed})


def share(client: Client, place: Location | None) -> None:
    Device.objects.create(name="Dock tablet", token_digest=digest_of(TOKEN), location=place)
    client.post(reverse("enrol", args=[TOKEN]))


def is_in(client: Client) -> bool:
    return client.get("/").status_code == 200


def test_name_and_password_open_the_page_that_was_asked_for(client: Client, mill: Location) -> None:
    ines(mill)
    answer = press(client, password="beet and barley", next="/all/")
    assert answer.url == "/all/"
    assert is_in(client)


def test_nobody_is_sent_to_another_house(client: Client, mill: Location) -> None:
    ines(mill)
    assert press(client, password="beet and barley", next="https://elsewhere.example/").url == "/"


def test_a_wrong_password_is_answered_in_a_sentence_and_keeps_the_name(
    client: Client, mill: Location
) -> None:
    ines(mill)
    answer = press(client, password="barley")
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Name and password do not belong together" in text
    assert 'value="ines"' in text
    assert not is_in(client)


def test_too_many_wrong_tries_keep_the_right_password_out_as_well(
    client: Client, mill: Location
) -> None:
    ines(mill)
    for _ in range(5):
        press(client, password="guess")
    answer = press(client, password="beet and barley")
    assert answer.status_code == 429
    assert "Try again in 15 minutes" in answer.content.decode()
    assert not is_in(client)


def test_a_personal_number_is_worth_nothing_away_from_the_tablet(
    client: Client, mill: Location
) -> None:
    ines(mill)
    assert press(client, number="4071").status_code == 422
    assert not is_in(client)


def test_at_the_tablet_a_name_and_a_number_are_enough(client: Client, mill: Location) -> None:
    ines(mill)
    share(client, mill)
    assert "Ines" in client.get(reverse("sign_in")).content.decode()
    assert press(client, number="4072").status_code == 422
    assert press(client, number="4071").status_code == 302
    assert "Dock tablet" in client.get("/").content.decode()


def test_the_tablet_asks_again_after_quiet_minutes(client: Client, mill: Location) -> None:
    ines(mill)
    share(client, mill)
    press(client, number="4071")
    client.get("/")
    assert client.session.get_expiry_age() == 15 * 60


def test_a_tablet_serves_its_own_place_only(client: Client, mill: Location) -> None:
    ines(role="manager")
    share(client, mill)
    away = make.location(name="Corner")
    make.lot(5, at=away, use_by=make.TODAY)
    make.lot(5, at=mill, use_by=make.TODAY)
    press(client, number="4071")
    text = client.get("/").content.decode()
    assert "Mill Lane is past" in text
    assert "Corner is past" not in text


def test_a_retired_tablet_is_no_tablet(client: Client, mill: Location) -> None:
    ines(mill)
    share(client, mill)
    Device.objects.update(retired_on=make.TODAY)
    assert press(client, number="4071").status_code == 422


def test_one_press_signs_in_as_anybody_in_the_demo(client: Client, mill: Location) -> None:
    ines(mill)
    with DEMO:
        assert "press a name" in client.get(reverse("sign_in")).content.decode()
        client.post(reverse("sign_in_as", args=["ines"]))
    assert is_in(client)


@pytest.mark.parametrize("words", [{"DEMO": False, "DEBUG": True}, {"DEMO": True, "DEBUG": False}])
def test_one_press_is_not_there_outside_the_demo(
    client: Client, mill: Location, words: dict[str, bool]
) -> None:
    ines(mill)
    with override_settings(**words):
        assert "press a name" not in client.get(reverse("sign_in")).content.decode()
        assert client.post(reverse("sign_in_as", args=["ines"])).status_code == 404
    assert not is_in(client)


def test_who_signed_out_is_out(client: Client, mill: Location) -> None:
    client.force_login(ines(mill), backend="django.contrib.auth.backends.ModelBackend")
    assert is_in(client)
    client.post(reverse("sign_out"))
    assert not is_in(client)


def test_every_answer_forbids_scripts_and_hosts_of_others(client: Client) -> None:
    policy = client.get(reverse("sign_in")).headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize("where", ["/items/%00/", "/api/v1/items/%00/"])
def test_an_address_with_a_nul_is_not_there(client: Client, mill: Location, where: str) -> None:
    client.force_login(make.manager(), backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(where).status_code == 404
