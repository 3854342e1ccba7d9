"""Picking lots first expired first out: conservation, and an order that nothing else moves."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.fefo import LotOnHand, pick, usable_on

TODAY = date(2026, 3, 4)
quantities = st.decimals(min_value=0, max_value=1000, places=9)
days = st.none() | st.integers(-5, 9).map(lambda ahead: TODAY + timedelta(days=ahead))
lots = st.lists(
    st.tuples(quantities, days, days), max_size=8
).map(
    lambda rows: [
        LotOnHand(number, qty, use_by, received, f"R{number:04}")
        for number, (qty, use_by, received) in enumerate(rows)
    ]
)  # fmt: skip


@given(lots, quantities)
def test_what_is_asked_for_is_picked_or_uncovered(held: list[LotOnHand], qty: Decimal) -> None:
    picked = pick(held, qty, TODAY)
    taken = {one.key: one.qty for one in picked.picks}
    usable = [lot for lot in held if usable_on(lot.use_by, TODAY)]
    assert sum(taken.values(), picked.uncovered) == qty
    assert picked.uncovered == max(Decimal(0), qty - sum(lot.qty for lot in usable))
    assert all(qty > 0 for qty in taken.values())
    assert all(taken.get(lot.key, Decimal(0)) <= lot.qty for lot in held)
    assert set(taken) <= {lot.key for lot in usable}


@given(lots.flatmap(lambda held: st.tuples(st.just(held), st.permutations(held))), quantities)
def test_the_order_of_the_lots_given_changes_nothing(
    both: tuple[list[LotOnHand], list[LotOnHand]], qty: Decimal
) -> None:
    held, shuffled = both
    assert pick(held, qty, TODAY) == pick(shuffled, qty, TODAY)


@given(lots, quantities, quantities)
def test_two_draws_take_what_one_draw_of_both_takes(
    held: list[LotOnHand], first: Decimal, then: Decimal
) -> None:
    taken = {one.key: one.qty for one in pick(held, first, TODAY).picks}
    rest = [
        LotOnHand(lot.key, lot.qty - taken.get(lot.key, 0), lot.use_by, lot.received, lot.strip)
        for lot in held
    ]
    for one in pick(rest, then, TODAY).picks:
        taken[one.key] = taken.get(one.key, Decimal(0)) + one.qty
    assert taken == {one.key: one.qty for one in pick(held, first + then, TODAY).picks}


def lot(key: str, use_by: int | None, received: int | None = 1) -> LotOnHand:
    last, came = (None if day is None else date(2026, 3, day) for day in (use_by, received))
    return LotOnHand(key, Decimal(1), last, came, key)


@pytest.mark.parametrize(
    ("held", "order"),
    [
        ([lot("A", 9), lot("B", 8)], "BA"),
        ([lot("A", None), lot("B", 30)], "BA"),
        ([lot("A", 8, 3), lot("B", 8, 2)], "BA"),
        ([lot("B", 8, 2), lot("A", 8, 2)], "AB"),
        ([lot("A", None, 3), lot("B", None, 2)], "BA"),
        ([lot("A", 3), lot("B", 4)], "B"),
    ],
    ids=["use-by", "undated last", "received", "strip", "undated by receipt", "past use-by"],
)
def test_order_of_use(held: list[LotOnHand], order: str) -> None:
    """rules.md, R6 (2) and (3); the use-by day itself is a day of use."""
    assert "".join(str(one.key) for one in pick(held, Decimal(9), TODAY).picks) == order
