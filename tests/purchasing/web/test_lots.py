"""One strip: what its page tells, and what may be done with it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Event, Hold, Item, Location, Lot, OnHand, Transfer
from inventory.services.holds import hold_lot, release_hold
from tests import factories as make
from tests.purchasing.selectors.traced_kitchen import kitchen
from tests.purchasing.web.shelf import post, shelf_lot, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Client:
    return signed_in(make.member("manager", sees_cost=True, approve_up_to=None))


def page(client: Client, lot: Lot, query: str = "") -> str:
    response = client.get(f"/lots/{lot.strip}/{query}")
    assert response.status_code == 200
    return " ".join(text_of(response).split())


def some(place: Location, qty: str = "2", unit: str = "kg", **more: str) -> dict[str, str]:
    return {"at": place.code, "qty": qty, "unit": unit, **more}


def there(lot: Lot, place: Location) -> int:
    return int(OnHand.objects.get(lot=lot, location=place).qty)


def test_everything_about_a_strip(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks, supplier_lot="L-7")
    text = page(manager, lot)
    for said in (
        lot.strip,
        "Leeks",
        "until tomorrow",
        "As it stands on the package, or as it was typed.",
        "allergens not stated: ask before serving",
        "L-7",
        "4.00 USD a kg",
        '<span class="qty">5 kg</span> Mill Lane',
        f'href="/labels/?lots={lot.strip}"',
        f'href="/lots/{lot.strip}/trace/"',
        "hold everywhere",
        "received",
    ):
        assert said in text
    assert "Local code and the licensed person in charge decide" in text


def test_small_letters_name_the_same_strip(place: Location, manager: Client) -> None:
    lot = shelf_lot(place)
    assert manager.get(f"/lots/{lot.strip.lower()}/").status_code == 200


def test_who_delivered_and_received_it(manager: Client) -> None:
    text = page(manager, kitchen().tomatoes[0])
    assert "Came from Ferry Road Produce on Wed 4 Mar at 06:00 to Mill Lane" in text
    assert "received by Wen" in text
    assert "used in a batch" in text


def test_the_date_mark_of_what_is_frozen(place: Location, manager: Client) -> None:
    now = timezone.now()
    soup = make.item(name="Soup", kind="prep", tcs=True, ready_to_eat=True, may_freeze=True)
    lot = shelf_lot(place, of=soup, origin="batch", days=4, received_on=now.date())
    post(manager, f"/lots/{lot.strip}/change/", **some(place, "1", change="freeze"))
    part = Lot.objects.get(parent=lot)
    text = page(manager, part)
    assert "its clock stands, no date is due" in text
    assert "1 of 7 days used, 6 left." in text
    assert f">{lot.strip}</a>" in text
    assert f">{part.strip}</a> frozen" in page(manager, lot)


def test_ready_to_eat_without_a_date_is_to_be_discarded(place: Location, manager: Client) -> None:
    soup = make.item(kind="prep", tcs=True, ready_to_eat=True)
    lot = shelf_lot(place, of=soup, use_by=None, origin="opening", received_on=None)
    assert "Ready-to-eat food without a date mark is discarded" in page(manager, lot)


def test_opened_and_why_its_date_is_what_it_is(place: Location, manager: Client) -> None:
    tub = make.item(name="Yogurt", tcs=True, ready_to_eat=True, shelf_life_opened_days=3)
    lot = shelf_lot(place, of=tub, days=30)
    response = post(manager, f"/lots/{lot.strip}/change/", **some(place, "1", change="open"))
    part = Lot.objects.get(parent=lot)
    assert response.headers["Location"] == f"/lots/{part.strip}/"
    text = page(manager, part)
    assert "is the earliest of: the lot it is of" in text
    assert "and kept 3 days after; its date mark" in text
    assert "Day 1 of 7 of its date mark" in text
    assert f"It is {part.strip} now; print its label." in text


def test_hold_everywhere_is_one_press(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    post(manager, f"/lots/{lot.strip}/hold/", at="", reason="recall", note="glass")
    hold = Hold.objects.get()
    assert (hold.lot, hold.location, hold.reason, hold.note) == (lot, None, "recall", "glass")
    text = page(manager, lot)
    assert f"{lot.strip} is on hold." in text
    assert "on hold: not used, sent or sold" in text
    assert "everywhere since" in text


def test_a_hold_that_ended_still_stands_in_the_history(place: Location, manager: Client) -> None:
    lot, person = shelf_lot(place), make.user(first_name="Ines")
    now = timezone.now()
    (hold,) = hold_lot(lot, reason=Hold.Reason.RECALL, by=person, at=now)
    release_hold(hold.pk, why="fine", by=person, at=now)
    text = page(manager, lot)
    assert "by Ines: recall; released" in text
    assert "on hold: not used" not in text


def test_sent_to_another_place(place: Location, leeks: Item, manager: Client) -> None:
    make.location(code="CORNER", name="Corner")
    lot = shelf_lot(place, of=leeks)
    post(manager, f"/lots/{lot.strip}/move/", **some(place, to="CORNER"))
    number = Transfer.objects.get().number
    assert f"On its way to Corner as {number}." in page(manager, lot)
    assert there(lot, place) == 3000


@pytest.mark.parametrize(
    ("deed", "typed", "said"),
    [
        ("change", {"qty": "two", "change": "freeze"}, "&#x27;two&#x27; is not a figure"),
        ("change", {"qty": "", "change": "freeze"}, "type how much, such as 2.5"),
        ("change", {"qty": "9", "change": "freeze"}, "5000 g are there, not 9000 g"),
        ("change", {"qty": "1", "change": "thaw"}, "is not frozen"),
        ("change", {"qty": "1", "change": "eat"}, "Choose what is done with it"),
        ("change", {"qty": "1", "change": "open", "use_by": "soon"}, "is not a date"),
        ("change", {"qty": "1", "change": "open", "use_by": "2999-01-01"}, "Nobody lengthens"),
        ("change", {"qty": "1", "unit": "box", "change": "open"}, "box"),
        ("move", {"qty": "1", "to": ""}, "Choose another place"),
        ("hold", {"reason": "because"}, "Choose why it is held"),
    ],
)
def test_what_is_refused_is_said_and_nothing_typed_is_lost(
    deed: str,
    typed: dict[str, str],
    said: str,
    place: Location,
    leeks: Item,
    manager: Client,
) -> None:
    lot = shelf_lot(place, of=leeks)
    response = post(manager, f"/lots/{lot.strip}/{deed}/", **{**some(place), **typed})
    text = text_of(response)
    assert response.status_code == 422
    assert said in text
    assert "nothing was stored" in text
    if typed.get("qty"):
        assert f'value="{typed["qty"]}"' in text
    assert not Event.objects.exists()


def test_a_lot_that_is_gone_meanwhile(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    OnHand.objects.update(qty=0)
    response = post(manager, f"/lots/{lot.strip}/change/", **some(place, change="freeze"))
    assert response.status_code == 409
    assert "somebody was quicker" in text_of(response)


@pytest.mark.parametrize(
    ("role", "offered"),
    [
        ("buyer", ["hold"]),
        ("truck_lead", ["hold", "move"]),
        ("staff", ["hold", "change", "move"]),
        ("owner", ["hold", "change", "move"]),
    ],
)
def test_each_person_is_offered_what_they_may_do(
    role: str, offered: list[str], place: Location, leeks: Item
) -> None:
    lot = shelf_lot(place, of=leeks)
    text = page(signed_in(make.member(role)), lot)
    assert re.findall(rf'action="/lots/{lot.strip}/(\w+)/"', text) == offered


def test_what_is_on_hold_is_only_taken_out(place: Location, leeks: Item, manager: Client) -> None:
    """On hold here; what lies at another place is free there."""
    corner = make.location(code="CORNER", name="Corner")
    lot = shelf_lot(place, of=leeks)
    make.receive(lot, corner, 700)
    hold_lot(lot, location=place, reason=Hold.Reason.RECALL, by=None, at=timezone.now())
    text = page(manager, lot)
    assert "Change some of it at Corner" in text and "Send some of it from Corner" in text
    assert "some of it at Mill Lane" not in text and "some of it from Mill Lane" not in text
    assert f"?lot={lot.strip}&amp;at=COM" in text


@pytest.mark.parametrize(
    ("deed", "more"), [("change", {"change": "open"}), ("move", {"to": "CORNER"})]
)
def test_a_page_from_before_the_hold_is_told_of_it(
    deed: str, more: dict[str, str], place: Location, leeks: Item, manager: Client
) -> None:
    make.location(code="CORNER", name="Corner")
    lot = shelf_lot(place, of=leeks)
    now = timezone.now()
    hold_lot(lot, reason=Hold.Reason.RECALL, note_text="glass", by=None, at=now)
    response = post(manager, f"/lots/{lot.strip}/{deed}/", **some(place, **more))
    assert response.status_code == 422
    assert f"Leeks {lot.strip} is on hold (recall: glass)" in text_of(response)
    assert there(lot, place) == 5000


def test_somebody_of_one_place_holds_it_there(place: Location, leeks: Item) -> None:
    lot = shelf_lot(place, of=leeks)
    client = signed_in(make.member("staff", place))
    text = page(client, lot)
    assert "hold everywhere" not in text and "at Mill Lane only" in text
    assert "USD" not in text
    post(client, f"/lots/{lot.strip}/hold/", at="COM", reason="temperature")
    assert Hold.objects.get().location == place


@pytest.mark.parametrize("deed", ["", "hold/", "change/", "move/", "trace/"])
def test_a_lot_of_another_place_is_not_there(deed: str, place: Location) -> None:
    lot = shelf_lot(place)
    client = signed_in(make.member("manager", make.location()))
    address = f"/lots/{lot.strip}/{deed}"
    ask = client.get if deed in ("", "trace/") else client.post
    assert ask(address, {"key": "k"}).status_code == 404
    assert signed_in(make.user()).get(address).status_code in (404, 405)
    assert Client().get(f"/lots/{lot.strip}/").status_code == 302


def test_a_long_history_is_shown_on_asking(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks, qty=5000)
    for minutes in range(65):
        make.receive(lot, place, 1, when=timezone.now() - timedelta(minutes=minutes))
    assert page(manager, lot).count('<th scope="row">received') == 60
    assert page(manager, lot, "?all").count('<th scope="row">received') == 66


def test_queries_do_not_grow_with_parts_and_movements(
    place: Location, leeks: Item, manager: Client, count_queries: Callable[..., int]
) -> None:
    lot = shelf_lot(place, of=leeks, qty=90000)

    def parts(count: int) -> None:
        for number in range(count):
            typed = some(place, "1", change="portion")
            post(manager, f"/lots/{lot.strip}/change/", key=f"{count}-{number}", **typed)

    parts(3)
    page(manager, lot)
    few = count_queries(page, manager, lot)
    parts(57)
    page(manager, lot)
    assert count_queries(page, manager, lot) == few
