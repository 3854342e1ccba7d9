"""Bought at the counter: a shop receipt becomes lots without an order."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User

from inventory.models import Event, Lot, Membership, OnHand
from inventory.problems import Refused
from purchasing.models import Receipt, ReceiptLine
from purchasing.selectors.invariants import check_all
from purchasing.services.bought import Bought, buy
from tests import factories as make
from tests.factories import NOW
from tests.purchasing.services.dock_scenes import chilled, dry, hand


@pytest.fixture
def staff(db: None) -> User:
    return make.member(Membership.Role.STAFF)


def bought(who: User, *lines: Bought, shop: str = "Corner shop, Mill Lane") -> Receipt:
    place = make.location()
    return buy(shop, lines, place, happened_at=NOW, hand=hand(who))


def line(**facts: Any) -> Bought:
    usual: dict[str, Any] = {"row": 1, "item": None, "qty": Decimal(2), "unit": "kg"}
    told = {**usual, **facts}
    return Bought(**{**told, "item": told["item"] or dry()})


def refusals(who: User, *lines: Bought, **facts: str) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as refused:
        bought(who, *lines, **facts)
    return [(problem.code, problem.field) for problem in refused.value.problems]


def test_a_shop_receipt_becomes_lots(staff: User) -> None:
    receipt = bought(staff, line(price=Decimal("3.00")), line(row=2, item=chilled()))
    assert (receipt.bought_from, receipt.order, receipt.supplier) == (
        "Corner shop, Mill Lane",
        None,
        None,
    )
    first, second = Lot.objects.order_by("pk")
    assert first.unit_cost == Decimal("0.0015")
    assert (second.unit_cost, second.use_by) == (None, date(2026, 3, 11))
    assert [row.qty for row in OnHand.objects.all()] == [2000, 2000]
    assert ReceiptLine.objects.filter(receipt=receipt).count() == 2
    assert Event.objects.get().verb == "buy"
    assert not any(finding.rows for finding in check_all())


def test_every_problem_at_once(staff: User) -> None:
    wrong = line(qty=Decimal(0), unit="stone", price=Decimal(-1))
    late = line(row=2, item=chilled(), use_by=date(2026, 3, 12))
    over = line(row=3, use_by=date(2026, 3, 3))
    assert refusals(staff, wrong, late, over, shop=" ") == [
        ("shop_missing", "shop"),
        ("not_positive", "b1-qty"),
        ("negative", "b1-price"),
        ("unknown_unit", "b1-unit"),
        ("use_by_too_late", "b2-use_by"),
        ("past_use_by", "b3-use_by"),
    ]


def test_nothing_is_no_purchase(staff: User) -> None:
    assert refusals(staff) == [("nothing_bought", "b1-item")]


def test_food_that_spoils_without_a_life_needs_a_use_by(staff: User) -> None:
    wants = line(item=chilled(shelf_life_days=None))
    assert refusals(staff, wants) == [("use_by_missing", "b1-use_by")]


def test_a_truck_lead_does_not_book_it(db: None) -> None:
    who = make.member(Membership.Role.TRUCK_LEAD)
    assert refusals(who, line()) == [("not_allowed", "")]
