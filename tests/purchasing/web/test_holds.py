"""What is blocked, why, who must answer; release and hold."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Event, Hold, Location, StorageArea
from inventory.services.holds import hold_lot
from tests import factories as make
from tests.purchasing.selectors.traced_kitchen import kitchen
from tests.purchasing.web.shelf import post, shelf_lot, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def manager() -> Client:
    return signed_in(make.member("manager"))


def page(client: Client, query: str = "") -> str:
    response = client.get(f"/holds/{query}")
    assert response.status_code == 200
    return " ".join(text_of(response).split())


def held(place: Location, **facts: str) -> Hold:
    usual = {"reason": Hold.Reason.RECALL, "note_text": "glass"}
    lot, person = shelf_lot(place), make.user(first_name="Ines")
    return hold_lot(lot, by=person, at=timezone.now(), **{**usual, **facts})[0]  # type: ignore[arg-type]


def test_nothing_on_hold_is_said_so(manager: Client) -> None:
    assert "Nothing is on hold." in page(manager)


def test_what_is_blocked_where_since_when_by_whom_and_why(place: Location, manager: Client) -> None:
    hold = held(place)
    text = page(manager)
    assert hold.lot.strip in text
    assert "5 kg, Mill Lane" in text
    assert "everywhere, since" in text and "by Ines" in text
    assert "on hold: recall, glass" in text
    assert "Local code and the licensed person in charge decide" in text


def test_who_must_answer(place: Location, manager: Client) -> None:
    tomatoes = kitchen().tomatoes[0]
    hold_lot(tomatoes, reason=Hold.Reason.RECALL, by=None, at=timezone.now())
    held(place, reason=Hold.Reason.TEMPERATURE)
    text = page(manager)
    assert "Ferry Road Produce, 555 0100 must answer" in text
    assert "the licensed person in charge must answer" in text


def test_release_with_a_reason(place: Location, manager: Client) -> None:
    hold = held(place)
    address = f"/holds/{hold.pk}/release/"
    refused = post(manager, address, **{f"why-{hold.pk}": ""})
    assert refused.status_code == 422
    assert f'aria-describedby="problem-why-{hold.pk}"' in text_of(refused) or (
        "Say why" in text_of(refused)
    )
    said = manager.post(address, {"key": "k", f"why-{hold.pk}": "supplier cleared it"}, follow=True)
    assert f"{hold.lot.strip} may be used again." in text_of(said)
    assert Event.objects.get(verb="release").changes["why"] == "supplier cleared it"
    assert "Nothing is on hold." in page(manager)


def test_a_second_release_says_that_it_was_done(place: Location, manager: Client) -> None:
    hold = held(place)
    for key, status in (("a", 302), ("b", 422)):
        typed = {f"why-{hold.pk}": "fine"}
        response = post(manager, f"/holds/{hold.pk}/release/", key=key, **typed)
        assert response.status_code == status
    assert "was released already" in text_of(response)


@pytest.mark.parametrize("role", ["buyer", "staff", "prep_lead", "truck_lead"])
def test_who_may_not_release_is_not_offered_it(role: str, place: Location) -> None:
    hold = held(place)
    client = signed_in(make.member(role))
    assert "release/" not in page(client)
    assert post(client, f"/holds/{hold.pk}/release/").status_code == 404


def test_a_lot_is_held_by_its_strip(place: Location, manager: Client) -> None:
    lot = shelf_lot(place)
    typed = {"strip": lot.strip.lower(), "reason": "complaint", "note": "hair", "at": ""}
    post(manager, "/holds/lot/", **typed)
    hold = Hold.objects.get()
    assert (hold.lot, hold.location, hold.note) == (lot, None, "hair")
    assert f"{lot.strip} is on hold." in page(manager)


def test_a_strip_that_is_none_is_not_there(place: Location, manager: Client) -> None:
    response = post(manager, "/holds/lot/", strip="NOONE", reason="recall", note="glass")
    assert response.status_code == 422
    assert "No lot has the strip" in text_of(response)
    assert 'value="glass"' in text_of(response)


def test_a_whole_store_is_held(place: Location, manager: Client) -> None:
    walk_in = StorageArea.objects.create(location=place, code="W", name="walk-in", kind="chilled")
    lots = [shelf_lot(place, area=walk_in) for _ in range(3)]
    typed = {"area": f"store:{walk_in.pk}", "reason": "temperature", "note": "door left open"}
    said = manager.post("/holds/store/", {"key": "k", **typed}, follow=True)
    assert "3 lots are on hold." in text_of(said)
    assert {hold.lot for hold in Hold.objects.all()} == set(lots)


def test_everything_aboard_a_truck_is_held(place: Location, manager: Client) -> None:
    truck = make.location(code="PIER", name="Pier truck", kind="truck")
    aboard, ashore = shelf_lot(truck), shelf_lot(place)
    typed = {"area": "place:PIER", "reason": "temperature", "note": "fridge off"}
    said = manager.post("/holds/store/", {"key": "k", **typed}, follow=True)
    assert "1 lot is on hold." in text_of(said)
    hold = Hold.objects.get()
    assert (hold.lot, hold.location) == (aboard, truck)
    assert ashore.holds.count() == 0


@pytest.mark.parametrize("area", ["", "store:0", "store:x", "place:NOWHERE", "else:1"])
def test_a_store_that_is_none_is_not_there(area: str, place: Location, manager: Client) -> None:
    assert post(manager, "/holds/store/", area=area, reason="recall").status_code == 404


def test_people_of_one_place_see_and_hold_there(place: Location) -> None:
    hold = held(place)
    elsewhere = make.location(code="CORNER", name="Corner")
    StorageArea.objects.create(location=place, code="W", name="walk-in", kind="chilled")
    text = page(signed_in(make.member("staff", elsewhere)))
    assert hold.lot.strip not in text
    assert "walk-in" not in text and '<option value="">everywhere' not in text
    assert '<option value="CORNER"' in text


def test_a_long_list_goes_on(place: Location, manager: Client) -> None:
    holds = [held(place) for _ in range(62)]
    first = page(manager)
    assert holds[-1].lot.strip in first and holds[0].lot.strip not in first
    assert holds[0].lot.strip in page(manager, f"?from={holds[1].pk}")


def test_queries_do_not_grow_with_holds(
    place: Location, manager: Client, count_queries: Callable[..., int]
) -> None:
    for _ in range(3):
        held(place)
    few = count_queries(page, manager)
    for _ in range(57):
        held(place)
    assert count_queries(page, manager) == few
