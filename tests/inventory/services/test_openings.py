from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Hold, Item, Location, Lot, Movement, OnHand
from inventory.problems import Refused
from inventory.services.openings import Opening, opening_problems, post_openings
from tests import factories as make
from tests.factories import NOW


@pytest.fixture
def place(db: None) -> Location:
    return make.location(name="Commissary")


@pytest.fixture
def leeks(db: None) -> Item:
    return make.item(name="Leeks")


def load(*openings: Opening) -> int:
    return post_openings(openings, by=None, at=NOW)


def opening(item: Item, place: Location, qty: int = 5, key: str = "k", **facts: Any) -> Opening:
    return Opening(key, item, place, Decimal(qty), **facts)


def test_an_opening_balance_is_there_before_the_first_movement(
    leeks: Item, place: Location
) -> None:
    made = load(opening(leeks, place, supplier_lot="B7", use_by=date(2026, 3, 9)))
    assert made == 1
    lot = Lot.objects.get()
    assert (lot.origin, lot.supplier_lot, lot.use_by) == ("opening", "B7", date(2026, 3, 9))
    assert OnHand.objects.get().qty == 5
    movement = Movement.objects.get()
    assert (movement.kind, movement.happened_at, movement.recorded_at) == ("opening", None, NOW)


def test_the_same_again_changes_nothing(leeks: Item, place: Location) -> None:
    load(opening(leeks, place))
    assert load(opening(leeks, place)) == 0
    assert (Lot.objects.count(), Movement.objects.count()) == (1, 1)


def test_the_same_again_after_use_changes_nothing(leeks: Item, place: Location) -> None:
    load(opening(leeks, place))
    lot = Lot.objects.get()
    OnHand.objects.filter(lot=lot).update(qty=Decimal(2))
    assert load(opening(leeks, place)) == 0
    assert OnHand.objects.get().qty == 2


def test_another_quantity_is_refused(leeks: Item, place: Location) -> None:
    load(opening(leeks, place))
    with pytest.raises(Refused) as refused:
        load(opening(leeks, place, 6))
    assert str(refused.value) == (
        "Leeks at Commissary was opened with 5 g, not 6 g. An opening balance is loaded once: "
        "count it instead."
    )


def test_what_would_be_refused_can_be_asked_before(leeks: Item, place: Location) -> None:
    load(opening(leeks, place))
    rows = [opening(leeks, place, 6), opening(leeks, place, 6, "new"), opening(leeks, place)]
    assert [row for row, _ in opening_problems(rows)] == rows[:1]


def test_a_lot_of_nothing_is_known_but_moves_nothing(leeks: Item, place: Location) -> None:
    assert load(opening(leeks, place, 0)) == 1
    assert load(opening(leeks, place, 0)) == 0
    assert not Movement.objects.exists()


def test_a_hold_comes_with_the_balance(leeks: Item, place: Location) -> None:
    load(opening(leeks, place, hold=Hold.Reason.OTHER), opening(leeks, place, key="free"))
    hold = Hold.objects.get()
    assert (hold.lot.opening_key, hold.opened_at, hold.location) == ("k", None, None)


def test_queries_do_not_grow_within_a_thousand_rows(
    leeks: Item, place: Location, count_queries: Callable[..., int]
) -> None:
    few = count_queries(load, *[opening(leeks, place, key=f"a{n}") for n in range(3)])
    many = count_queries(load, *[opening(leeks, place, key=f"b{n}") for n in range(60)])
    assert many <= few + 1  # the rows of one insert are limited on SQLite
