"""On hand as of a moment (rules R3): later movements, holds and receipts do not count."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from inventory.models import Hold, Item, Location, Lot, Movement
from inventory.selectors.on_hand import stock_at, usable_stock
from inventory.services.ledger import Entry, post
from inventory.services.openings import Opening, post_openings
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


@pytest.fixture
def place() -> Location:
    return make.location(code="COM")


@pytest.fixture
def leeks() -> Item:
    return make.item(code="LEEK")


def use(lot: Lot, place: Location, qty: int, when: datetime) -> None:
    with transaction.atomic():
        post([Entry(Movement.Kind.USAGE, lot, place, Decimal(-qty), when)], by=None, at=when)


def on_hand(at: datetime = NOW) -> dict[str, Decimal]:
    """By strip number."""
    return {row.lot.strip: qty for row, qty in stock_at(at, at.date()) if qty}


def usable(at: datetime = NOW) -> dict[str, float]:
    return {lot.strip: lot.qty for lot in usable_stock(at, at.date())}


def open_with(item: Item, place: Location, qty: int, *, received: date | None = None) -> Lot:
    opening = Opening(f"{place.code}|1", item, place, Decimal(qty), received_on=received)
    with transaction.atomic():
        post_openings([opening], by=None, at=NOW)
    return Lot.objects.get(opening_key=opening.key)


def test_a_movement_counts_from_its_own_moment_on(place: Location, leeks: Item) -> None:
    lot = make.lot(500, at=place, of=leeks, when=NOW)
    use(lot, place, 120, NOW + HOUR)
    assert on_hand(NOW - HOUR) == {}
    assert on_hand(NOW) == {lot.strip: 500}, "a moment includes what happened at it"
    assert on_hand(NOW + HOUR) == {lot.strip: 380}


def test_what_was_used_up_later_was_there_before(place: Location, leeks: Item) -> None:
    lot = make.lot(500, at=place, of=leeks, when=NOW)
    use(lot, place, 500, NOW + DAY)
    assert on_hand(NOW) == {lot.strip: 500}
    assert usable(NOW) == {lot.strip: 500}
    assert on_hand(NOW + DAY) == {}


def test_what_was_posted_late_counts_when_it_happened(place: Location, leeks: Item) -> None:
    lot = make.lot(500, at=place, of=leeks, when=NOW)
    entry = Entry(Movement.Kind.USAGE, lot, place, Decimal(-100), NOW + HOUR)
    with transaction.atomic():
        post([entry], by=None, at=NOW + 3 * DAY)
    assert on_hand(NOW + HOUR) == {lot.strip: 400}


def test_an_opening_balance_is_there_at_any_moment(place: Location, leeks: Item) -> None:
    lot = open_with(leeks, place, 700)
    assert on_hand(NOW - 1000 * DAY) == {lot.strip: 700}


def test_a_lot_received_after_the_day_is_not_on_hand(place: Location, leeks: Item) -> None:
    """An opening balance carries no time, but its lot a day of receipt."""
    lot = open_with(leeks, place, 700, received=TODAY + DAY)
    assert on_hand(NOW) == {}
    assert on_hand(NOW + DAY) == {lot.strip: 700}


@pytest.mark.parametrize(
    ("opened", "closed", "held"),
    [
        (None, None, True),
        (None, HOUR, True),
        (None, -HOUR, False),
        (-HOUR, None, True),
        (0 * HOUR, None, True),
        (HOUR, None, False),
        (-DAY, 0 * HOUR, False),
        (-DAY, HOUR, True),
    ],
    ids=[
        "with the opening",
        "with the opening, ended later",
        "with the opening, ended",
        "before",
        "just now",
        "later",
        "ended just now",
        "ended later",
    ],
)
def test_a_hold_counts_while_it_is_open(
    place: Location,
    leeks: Item,
    opened: timedelta | None,
    closed: timedelta | None,
    held: bool,
) -> None:
    lot = make.lot(500, at=place, of=leeks, when=NOW - DAY)
    Hold.objects.create(
        lot=lot,
        reason=Hold.Reason.RECALL,
        opened_at=None if opened is None else NOW + opened,
        closed_at=None if closed is None else NOW + closed,
    )
    assert on_hand() == {lot.strip: 500}, "what is on hold is still there"
    assert (lot.strip not in usable()) is held


def test_a_hold_at_another_location_leaves_this_one_usable(place: Location, leeks: Item) -> None:
    truck = make.location(kind="truck")
    lot = make.lot(500, at=place, of=leeks)
    Hold.objects.create(lot=lot, location=truck, reason=Hold.Reason.OTHER)
    assert usable() == {lot.strip: 500}
    Hold.objects.create(lot=lot, location=place, reason=Hold.Reason.OTHER)
    assert usable() == {}


@pytest.mark.parametrize(("days", "counts"), [(-1, False), (0, True), (1, True)])
def test_the_use_by_day_is_a_day_of_use(
    place: Location, leeks: Item, days: int, counts: bool
) -> None:
    lot = make.lot(500, at=place, of=leeks, use_by=TODAY + days * DAY)
    assert on_hand() == {lot.strip: 500}
    assert (lot.strip in usable()) is counts


def test_queries_do_not_grow_with_lots(
    place: Location, leeks: Item, count_queries: Callable[..., int]
) -> None:
    make.lot(5, at=place, of=leeks)
    few = count_queries(usable_stock, NOW, TODAY)
    for _ in range(30):
        make.lot(5, at=place, of=leeks)
    assert count_queries(usable_stock, NOW, TODAY) == few == 3
