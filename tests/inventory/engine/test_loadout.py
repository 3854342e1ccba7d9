"""Load targets, load-outs, aboard and back (rules R12, steps 2 to 4)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.kitchen import Stop
from inventory.engine.loadout import (
    Aboard,
    Service,
    chance_dish_lasts,
    first_of_day,
    load_targets,
    services,
)
from inventory.engine.shelf import Shelf
from tests.inventory.engine.small_kitchens import CLOCK, coming, day, hour, lot, stop

EVEN = np.full(4, 0.25)


def serve(*days: str) -> tuple[Service, ...]:
    return tuple(Service(f"A/{text}", day(text), hour("11:00")) for text in days)


def loads(
    served: tuple[Service, ...],
    need: list[list[float]],
    *,
    stock: Shelf | None = None,
    target: list[float] | None = None,
    keeps: bool = True,
    life: int | None = None,
    sent: dict[int, float] | None = None,
) -> list[list[float]]:
    wanted = np.array(need, dtype=float)
    aboard = Aboard(
        shelf=stock or Shelf(wanted.shape[1]),
        keeps=keeps,
        life_days=life,
        leaves=[one.day for one in served],
        serves=[one.moment(CLOCK) for one in served],
        sent=sent or {},
    )
    targets = wanted.max(axis=1) if target is None else np.array(target, dtype=float)
    return [list(row) for row in aboard.loads(wanted, targets, served)]


def holding(*lots: tuple[float, str | None]) -> Shelf:
    return Shelf.holding(1, [lot("A", "X", qty, use_by) for qty, use_by in lots], [], CLOCK)


# --- Services: the stops of a truck ----------------------------------------------------------


def keys(stops: list[Stop], booked: tuple[str, ...] = ()) -> list[str]:
    found = services(stops, [day(text) for text in booked], day("03-02"))
    return [one.key or f"no stop {one.day}" for one in found]


def test_several_stops_of_one_day_come_in_order_of_opening() -> None:
    late, early = stop("A", "03-03", "18:00"), stop("A", "03-03", "11:00")
    assert keys([late, early]) == [early.key, late.key]


def test_a_booking_belongs_to_the_days_first_stop_that_is_not_cancelled() -> None:
    stops = [stop("A", "03-03", "09:00", cancelled=True), stop("A", "03-03", "18:00")]
    found = services([*stops, stop("A", "03-03", "20:00")], [day("03-03")], day("03-02"))
    assert found[first_of_day(found)[day("03-03")]].key == stops[1].key


def test_a_booking_without_a_planned_stop_is_a_service_without_opening_time() -> None:
    found = services([], [day("03-03")], day("03-02"))
    assert found == (Service("", day("03-03"), None),)


def test_a_day_of_cancelled_stops_has_no_service_booked_or_not() -> None:
    assert keys([stop("A", "03-03", cancelled=True)], ("03-03",)) == []


def test_stops_before_t_are_gone_and_stops_without_demand_are_held() -> None:
    today = stop("A", "03-02")
    assert keys([stop("A", "03-01"), today], ("03-01",)) == [today.key]


# --- Load target -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("level", "expected"),
    [(0.25, 1.0), (0.26, 2.0), (0.5, 2.0), (0.75, 3.0), (0.76, 9.0), (0.99, 9.0)],
)
def test_target_is_the_smallest_whose_chance_of_lasting_reaches_the_level(
    level: float, expected: float
) -> None:
    need = np.array([[3.0, 1.0, 9.0, 2.0]])
    assert load_targets(need, EVEN, level).tolist() == [expected]


def test_target_goes_by_the_weight_of_the_paths() -> None:
    need = np.array([[1.0, 2.0, 3.0]])
    assert load_targets(need, np.array([0.96, 0.03, 0.01]), 0.95).tolist() == [1.0]


def test_target_of_a_certain_need_is_the_need_itself_unrounded() -> None:
    need = np.full((1, 4), 12.345)
    assert load_targets(need, EVEN, 0.95).tolist() == [12.345]


def test_sums_of_weights_one_ulp_short_of_the_level_still_reach_it() -> None:
    need = np.arange(10.0)[None, :]
    assert load_targets(need, np.full(10, 0.1), 0.8).tolist() == [7.0]


def test_dish_lasts_is_not_the_product_of_its_items_chances() -> None:
    needs = np.array([[1.0, 2.0, 3.0, 4.0], [10.0, 20.0, 30.0, 40.0]])
    assert chance_dish_lasts(needs, np.array([3.0, 30.0]), EVEN) == 0.75
    assert chance_dish_lasts(needs, np.array([3.0, 20.0]), EVEN) == 0.5


# --- Load-out: target less what is usable aboard ---------------------------------------------


@pytest.mark.parametrize(
    ("use_by", "expected"),
    [
        pytest.param("03-02", 10.0, id="past on the stop's date"),
        pytest.param("03-03", 6.0, id="its use-by is the stop's date"),
        pytest.param(None, 6.0, id="undated"),
    ],
)
def test_usable_aboard_is_judged_on_the_stops_date(use_by: str | None, expected: float) -> None:
    assert loads(serve("03-03"), [[10.0]], stock=holding((4.0, use_by))) == [[expected]]


def test_more_aboard_than_the_target_loads_nothing() -> None:
    assert loads(serve("03-03"), [[10.0]], stock=holding((25.0, None))) == [[0.0]]


def test_a_crumb_short_of_the_target_is_nothing() -> None:
    assert loads(serve("03-03"), [[10.0]], stock=holding((10.0 - 5e-7, None))) == [[0.0]]


def test_stock_aboard_is_used_first_expired_first() -> None:
    stock = holding((5.0, "03-09"), (5.0, "03-03"))
    # The five that end on 03-03 go first, so the others are there the next day.
    assert loads(serve("03-03", "03-04"), [[5.0], [8.0]], stock=stock) == [[0.0], [3.0]]


def test_what_paths_leave_aboard_is_netted_at_the_next_stop() -> None:
    found = loads(serve("03-03", "03-04"), [[4.0, 10.0], [10.0, 10.0]])
    assert found == [[10.0, 10.0], [4.0, 10.0]]


def test_what_is_left_is_good_for_its_life_from_the_day_the_load_leaves() -> None:
    need = [[4.0, 10.0], [0.0, 0.0], [10.0, 10.0]]
    served = serve("03-03", "03-04", "03-05")
    assert loads(served, need, life=1)[2] == [10.0, 10.0]
    assert loads(served, need, life=2)[2] == [4.0, 10.0]


def test_a_load_out_already_sent_replaces_the_planned_one() -> None:
    found = loads(serve("03-03", "03-04"), [[10.0], [10.0]], sent={0: 12.0})
    assert found == [[0.0], [8.0]]


def test_a_load_out_already_sent_is_not_topped_up_to_the_target() -> None:
    assert loads(serve("03-03"), [[10.0]], sent={0: 3.0}) == [[0.0]]


def test_a_transfer_counts_aboard_from_its_arrival() -> None:
    stock = Shelf.holding(1, [], [coming("A", "X", 6.0, "03-04", "08:00")], CLOCK)
    assert loads(serve("03-03", "03-04"), [[10.0], [10.0]], stock=stock) == [[10.0], [4.0]]


# --- Back: the return rule at the close ------------------------------------------------------


def test_what_does_not_keep_is_thrown_away_at_the_close_used_there_or_not() -> None:
    served = serve("03-03", "03-04")
    unused = [[0.0], [10.0]]
    assert loads(served, unused, stock=holding((4.0, "03-09")), keeps=False) == [[0.0], [10.0]]
    assert loads(served, unused, stock=holding((4.0, "03-09")), keeps=True) == [[0.0], [6.0]]


def test_a_close_throws_away_what_was_left_on_every_path() -> None:
    found = loads(serve("03-03", "03-04"), [[4.0, 10.0], [10.0, 10.0]], keeps=False)
    assert found == [[10.0, 10.0], [10.0, 10.0]]


def test_a_transfer_after_the_close_is_not_thrown_away_by_it() -> None:
    stock = Shelf.holding(1, [], [coming("A", "X", 6.0, "03-04", "08:00")], CLOCK)
    found = loads(serve("03-03", "03-04"), [[10.0], [10.0]], stock=stock, keeps=False)
    assert found == [[10.0], [4.0]]


quantities = st.floats(0, 50).map(lambda qty: round(qty, 2))


@given(
    st.lists(st.lists(quantities, min_size=3, max_size=3), min_size=1, max_size=4),
    quantities,
    st.booleans(),
)
def test_aboard_plus_load_is_at_least_the_target_and_no_path_minds_another(
    need: list[list[float]], stock: float, keeps: bool
) -> None:
    served = serve("03-03", "03-04", "03-05", "03-06")[: len(need)]
    target = [sorted(row)[1] for row in need]
    alike = Shelf.holding(3, [lot("A", "X", stock, "03-05")], [], CLOCK)
    found = loads(served, need, stock=alike, target=target, keeps=keeps)
    for path in range(3):
        alone = loads(
            served,
            [[row[path]] for row in need],
            stock=holding((stock, "03-05")),
            target=target,
            keeps=keeps,
        )
        assert [row[path] for row in found] == [row[0] for row in alone]
    assert all(
        0 <= row[path] <= most
        for row, most in zip(found, target, strict=True)
        for path in (0, 1, 2)
    )
