"""Lots by money at risk: which come first, what counts in full, and how many queries."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from inventory.models import Booking, Hold, Item, Location, Lot, Movement
from inventory.services.ledger import Entry, post
from purchasing.models import Price
from purchasing.selectors.use_by import LotAtRisk, lots_at_risk
from tests import factories as make
from tests.factories import TODAY

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
BEFORE = datetime(2026, 3, 3, 12, tzinfo=UTC)


@pytest.fixture
def place() -> Location:
    return make.location(code="COM")


@pytest.fixture
def leeks() -> Item:
    return make.item(code="LEEK")


def lot(item: Item, place: Location, qty: int, days: int, cost: str | None = None) -> Lot:
    """``days``: how many of use are left; ``cost`` of a gram."""
    each = None if cost is None else Decimal(cost)
    return make.lot(qty, at=place, of=item, when=BEFORE, use_by=TODAY + days * DAY, unit_cost=each)


def book(item: Item, place: Location, qty: int, days: int) -> None:
    """Certain use: an order of that day, confirmed."""
    on = TODAY + days * DAY
    Booking.objects.create(location=place, date=on, item=item, qty=Decimal(qty), unit="g")


def found(day: date = TODAY, days: int = 14, location: str | None = None) -> list[LotAtRisk]:
    return lots_at_risk(day, days=days, location=location)[0]


def test_most_money_at_risk_comes_first_then_use_by_then_strip(
    place: Location, leeks: Item
) -> None:
    cheap = lot(leeks, place, 5000, 2, "0.001")
    dear = lot(leeks, place, 1000, 3, "0.02")
    twins = [lot(leeks, place, 2500, 5, "0.002") for _ in range(2)]
    rows = found()
    in_order = [dear.strip, cheap.strip, *sorted(one.strip for one in twins)]
    assert [row.strip for row in rows] == in_order
    assert [row.value for row in rows] == pytest.approx([20, 5, 5, 5])


def test_what_is_certain_to_be_used_is_no_waste(place: Location, leeks: Item) -> None:
    first = lot(leeks, place, 1000, 1, "0.01")
    then = lot(leeks, place, 1000, 3, "0.01")
    book(leeks, place, 700, 1)
    book(leeks, place, 400, 2)
    rows = {row.strip: row for row in found()}
    # 700 of the first on day 1; 300 of it are left; 400 of the second on day 2
    assert rows[first.strip].expected_waste == pytest.approx(300)
    assert rows[then.strip].expected_waste == pytest.approx(600)
    assert {row.chance for row in rows.values()} == {1.0}


def test_use_on_the_use_by_day_still_counts(place: Location, leeks: Item) -> None:
    lot(leeks, place, 1000, 2)
    book(leeks, place, 1000, 2)
    (row,) = found()
    assert (row.expected_waste, row.chance) == (0, 0)


def test_a_lot_on_hold_counts_in_full(place: Location, leeks: Item) -> None:
    held = lot(leeks, place, 1000, 3, "0.01")
    Hold.objects.create(lot=held, reason=Hold.Reason.RECALL)
    book(leeks, place, 1000, 1)
    (row,) = found()
    assert (row.on_hold, row.expected_waste, row.chance) == (True, 1000, 1.0)
    assert row.value == pytest.approx(10)


def test_a_lot_past_its_use_by_counts_in_full(place: Location, leeks: Item) -> None:
    lot(leeks, place, 1000, -1, "0.01")
    book(leeks, place, 1000, 0)
    (row,) = found()
    assert (row.days_left, row.expected_waste, row.chance) == (-1, 1000, 1.0)


def test_only_lots_that_expire_in_the_days_asked_for(place: Location, leeks: Item) -> None:
    lot(leeks, place, 1, 3)
    lot(leeks, place, 1, 4)
    make.lot(1, at=place, of=leeks, when=BEFORE)
    assert [row.days_left for row in found(days=3)] == [3]


def test_only_lots_of_the_location_asked_for(place: Location, leeks: Item) -> None:
    other = make.location(code="K2", kind="kitchen")
    lot(leeks, place, 1, 3)
    elsewhere = lot(leeks, other, 1, 3)
    assert [row.strip for row in found(location="K2")] == [elsewhere.strip]


def test_without_a_cost_of_its_own_a_lot_is_worth_the_offers_price(
    place: Location, leeks: Item
) -> None:
    lot(leeks, place, 1000, 3)
    (row,) = found()
    assert row.value is None
    sold = make.offer(item=leeks, pack_qty=Decimal(10), pack_unit="kg")
    Price.objects.create(offer=sold, price=Decimal(30))
    (row,) = found()
    assert row.value == pytest.approx(3)


def test_what_moves_later_in_the_day_is_there_at_its_start(place: Location, leeks: Item) -> None:
    there = lot(leeks, place, 1000, 3)
    noon = datetime(2026, 3, 4, 12, tzinfo=UTC)
    with transaction.atomic():
        post([Entry(Movement.Kind.USAGE, there, place, Decimal(-400), noon)], by=None, at=noon)
    assert [row.qty for row in found()] == [1000]
    assert [row.qty for row in found(TODAY + DAY)] == [600]


def test_queries_do_not_grow_with_lots_or_items(
    place: Location, leeks: Item, count_queries: Callable[..., int]
) -> None:
    lot(leeks, place, 10, 3)
    few = count_queries(found)
    for _ in range(10):
        item = make.item()
        lot(item, place, 10, 3)
        lot(item, place, 10, 4)
        book(item, place, 5, 2)
    assert count_queries(found) == few
