"""Deliveries taken in through the API: every open line told, once, with lots that exist."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from inventory.models import Location, Lot, OnHand
from purchasing.models import PurchaseOrder, Receipt
from tests import factories as make
from tests.asking import Answer, Asker, asker

pytestmark = pytest.mark.django_db


@pytest.fixture
def here() -> Location:
    return make.location(code="COM")


@pytest.fixture
def staff(here: Location) -> Asker:
    return asker("staff", here)


@pytest.fixture
def sent(here: Location) -> PurchaseOrder:
    """2 cases of 10 kg of leeks, kept cold."""
    leeks = make.item(code="LEEK", storage="chilled", tcs=True, shelf_life_days=7)
    order = make.order(location=here)
    make.order_line(order, offer=make.offer(supplier=order.supplier, item=leeks, sku="L5"))
    return order


def leeks(**facts: object) -> dict[str, object]:
    """All in order."""
    return {
        "item": "LEEK",
        "sku": "L5",
        "expected": "2",
        "lots": [{"cases": "2", "supplier_lot": "A7"}],
        "temperature": {"degrees": "38", "unit": "F"},
        **facts,
    }


def take_in(who: Asker, order: PurchaseOrder, *lines: object, **facts: Any) -> Answer:
    key = facts.pop("key", "")
    body = {"happened_at": timezone.now().isoformat(), "lines": lines, **facts}
    return who.post(f"deliveries/{order.number}/receive/", body, key=key)


def test_a_delivery_becomes_lots(staff: Asker, sent: PurchaseOrder) -> None:
    answer = take_in(staff, sent, leeks(), document="D-17")
    (line,) = answer.body["lines"]
    assert (answer.status, answer.body["document"], line["accepted"]) == (201, "D-17", "2")
    lot = Lot.objects.get(strip=line["lot"])
    assert lot.supplier_lot == "A7"
    assert OnHand.objects.get(lot=lot).qty == Decimal(20_000)
    assert PurchaseOrder.objects.get().status == "received"


def test_a_double_press_makes_one_receipt(staff: Asker, sent: PurchaseOrder) -> None:
    moment = timezone.now().isoformat()
    answers = [take_in(staff, sent, leeks(), key="k1", happened_at=moment) for _ in range(2)]
    assert answers[0].body == answers[1].body
    assert Receipt.objects.count() == 1


def test_two_docks_and_one_order(staff: Asker, sent: PurchaseOrder) -> None:
    take_in(staff, sent, leeks(lots=[{"cases": "1"}]))
    answer = take_in(staff, sent, leeks())
    assert (answer.status, answer.codes) == (409, ["stale"])
    assert answer.body["problems"][0]["field"] == "lines.0"


def test_a_line_that_nobody_looked_at_is_told(staff: Asker, sent: PurchaseOrder) -> None:
    assert take_in(staff, sent).codes == ["line_not_said"]


def test_warm_food_needs_a_managers_word(staff: Asker, sent: PurchaseOrder, here: Location) -> None:
    warm = leeks(temperature={"degrees": "47", "unit": "F"})
    refused = take_in(staff, sent, warm)
    assert refused.status == 422
    assert "Local code and the licensed person in charge decide" in refused.messages
    word = "went straight on ice"
    assert take_in(staff, sent, warm, override=word).status == 422
    taken = take_in(asker("manager", here), sent, warm, override=word)
    assert (taken.status, taken.body["lines"][0]["override_reason"]) == (201, word)


def test_what_is_rejected_says_why(staff: Asker, sent: PurchaseOrder) -> None:
    crushed = leeks(lots=[{"cases": "1"}], rejected="1")
    answer = take_in(staff, sent, crushed)
    told = [(one["code"], one["field"]) for one in answer.body["problems"]]
    assert told == [("no_reason", "lines.0.reject_reason")]
    answer = take_in(staff, sent, {**crushed, "reject_reason": "crushed", "brings_again": "1"})
    assert (answer.status, answer.body["lines"][0]["rejected"]) == (201, "1")


def test_another_item_came_instead(staff: Asker, sent: PurchaseOrder) -> None:
    make.item(code="ONION")
    instead = {"item": "ONION", "cases": "2", "qty": "20", "unit": "kg", "allergens_seen": True}
    unknown = take_in(staff, sent, leeks(lots=[], substitute={**instead, "item": "LARD"}))
    assert unknown.body["problems"][0]["field"] == "lines.0.substitute.item"
    answer = take_in(staff, sent, leeks(lots=[], substitute=instead))
    assert (answer.status, answer.body["lines"][0]["substituted"]) == (201, "2")


def test_a_receipt_is_taken_back(staff: Asker, sent: PurchaseOrder) -> None:
    number = take_in(staff, sent, leeks()).body["receipt"]
    undone = staff.post(f"receipts/{number}/undo/", {"why": "wrong order"})
    assert (undone.status, undone.body["undone_why"]) == (200, "wrong order")
    assert PurchaseOrder.objects.get().status == "sent"
    assert staff.post(f"receipts/{number}/undo/", {"why": "again"}).status == 422
    assert (
        asker("staff", make.location()).post(f"receipts/{number}/undo/", {"why": "x"}).status == 404
    )


def test_bought_at_the_counter(staff: Asker, here: Location) -> None:
    make.item(code="LEEK")
    row = {"item": "LEEK", "qty": "2", "unit": "kg", "price": "5.20"}
    body = {
        "shop": "Corner shop, Mill Lane",
        "location": "COM",
        "happened_at": timezone.now().isoformat(),
        "lines": [row],
    }
    answer = staff.post("bought/", body)
    assert (answer.status, answer.body["bought_from"]) == (201, "Corner shop, Mill Lane")
    assert Lot.objects.get().unit_cost == Decimal("0.0026")
    wrong = staff.post("bought/", {**body, "lines": [row, {**row, "unit": "cup"}]})
    assert (wrong.status, wrong.body["problems"][0]["field"]) == (422, "lines.1.unit")


def test_who_may_not_receive_is_told_and_who_may_not_see_is_not(
    here: Location, sent: PurchaseOrder
) -> None:
    assert take_in(asker("truck_lead", here), sent, leeks()).status == 403
    assert take_in(asker("staff", make.location()), sent, leeks()).status == 404


def test_the_clock_of_a_device_may_not_run_ahead(staff: Asker, sent: PurchaseOrder) -> None:
    answer = take_in(staff, sent, leeks(), happened_at="2999-01-01T00:00:00Z")
    assert (answer.status, answer.codes) == (422, ["happens_later"])
