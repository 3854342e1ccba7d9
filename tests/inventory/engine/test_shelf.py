"""Stock on paths while it is planned with: first expired first (rules R6, R12)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.shelf import Shelf
from tests.inventory.engine.small_kitchens import CLOCK, at, coming, day, lot

NOON = at("03-05 12:00")


def holding(*lots: tuple[float, str | None], paths: int = 1) -> Shelf:
    return Shelf.holding(paths, [lot("COM", "X", qty, use_by) for qty, use_by in lots], [], CLOCK)


def drawn(shelf: Shelf, qty: float, on: str = "03-05") -> float:
    """What is not covered."""
    return float(shelf.draw(np.array([qty]), day(on), NOON)[0])


def test_earliest_use_by_goes_first_and_undated_last() -> None:
    shelf = holding((5, None), (5, "03-09"), (5, "03-06"))
    assert drawn(shelf, 12) == 0
    assert [float(qty[0]) for _, qty in sorted(shelf.lots.items())] == [0, 0, 3]


@pytest.mark.parametrize(("use_by", "missing"), [("03-04", 5), ("03-05", 0), (None, 0)])
def test_a_lot_serves_until_its_use_by(use_by: str | None, missing: float) -> None:
    assert drawn(holding((5, use_by)), 5) == missing


@pytest.mark.parametrize(("arrives", "there"), [(None, 5), ("12:00", 5), ("12:01", 0)], ids=str)
def test_an_arrival_is_there_from_its_hour_and_without_one_first_thing(
    arrives: str | None, there: float
) -> None:
    shelf = Shelf.holding(1, [], [coming("COM", "X", 5, "03-05", arrives)], CLOCK)
    assert shelf.usable(day("03-05"), NOON).tolist() == [there]


def test_discarding_leaves_what_is_still_to_come() -> None:
    shelf = Shelf.holding(1, [lot("COM", "X", 3)], [coming("COM", "X", 5, "03-06")], CLOCK)
    shelf.discard(NOON)
    assert shelf.total().tolist() == [5]


def test_each_path_draws_on_its_own_stock() -> None:
    shelf = holding((5, None), paths=2)
    assert shelf.draw(np.array([3.0, 7.0]), day("03-05"), NOON).tolist() == [0, 2]
    assert shelf.total().tolist() == [2, 0]


quantities = st.integers(0, 20).map(float)


@given(
    st.lists(st.tuples(quantities, st.sampled_from([None, "03-04", "03-06", "03-09"]))),
    st.lists(st.tuples(quantities, st.sampled_from(["03-05", "03-07"]))),
)
def test_stock_is_drawn_or_still_there(
    lots: list[tuple[float, str | None]], draws: list[tuple[float, str]]
) -> None:
    shelf = holding(*lots)
    met = sum(qty - drawn(shelf, qty, on) for qty, on in draws)
    assert met + shelf.total()[0] == pytest.approx(sum(qty for qty, _ in lots))
    assert all((qty >= 0).all() for qty in shelf.lots.values())
