"""Prep runs: need to batches to latest starts (rules R12, steps 5 and 6)."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.engine.kitchen import StockLot
from inventory.engine.prep import PrepRun, PrepTable
from inventory.engine.shelf import Shelf
from tests.inventory.engine.small_kitchens import (
    CLOCK,
    at,
    coming,
    day,
    hours_of,
    lot,
    place,
    recipe,
    said,
)

Asked = dict[tuple[str, str], Any]
AS_OF = "03-02 06:00"


def table(
    *,
    life: int | None = None,
    hours: tuple[str | None, str | None] = ("06:00", "18:00"),
    closed: tuple[str, ...] = (),
    as_of: str = AS_OF,
    **limits: Any,
) -> PrepTable:
    where = place("COM", "commissary", hours=hours, closed=closed)
    return PrepTable(recipe("X", 1, {"RAW": 1}, **limits), life, hours_of(where, as_of))


def planned(
    bench: PrepTable, asked: Asked, stock: list[StockLot] | Shelf | None = None
) -> tuple[PrepRun, ...]:
    """``asked``: quantity, or one a path, by (moment, day of use)."""
    needs = {
        (at(moment), day(used)): np.atleast_1d(np.asarray(qty, dtype=float))
        for (moment, used), qty in asked.items()
    }
    paths = max(len(qty) for qty in needs.values())
    shelf = stock if isinstance(stock, Shelf) else Shelf.holding(paths, stock or [], [], CLOCK)
    return bench.plan(needs, shelf)


def starts(runs: tuple[PrepRun, ...], path: int = 0) -> list[tuple[str, float]]:
    return [
        (said(batch.start), round(float(batch.qty[path]), 9))
        for run in runs
        for batch in run.starts
        if batch.qty[path] > 0
    ]


def sizes(net: float, **limits: Any) -> list[float]:
    """Batches of one run, first to last."""
    bench = table(hours=(None, None), batch_minutes=1, **limits)
    return [qty for _, qty in starts(planned(bench, {("03-05 12:00", "03-05"): net}))]


# --- (c) batches within limits ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("net", "smallest", "largest", "expected"),
    [
        pytest.param(11, 5, 10, [6, 5], id="11 kg in batches of 5 to 10 is 6 + 5"),
        pytest.param(31, 3, 6, [6, 6, 6, 6, 4, 3], id="worked case L"),
        pytest.param(12, 10, 10, [10, 10], id="worked case K: full batches only"),
        pytest.param(20, 5, 10, [10, 10], id="exactly full"),
        pytest.param(20 + 5e-7, 5, 10, [10, 10], id="a crumb over is no third batch"),
        pytest.param(3, 5, 10, [5], id="less than the smallest"),
        pytest.param(7.2, None, 1.5, [1.5] * 4 + [1.2], id="no smallest"),
        pytest.param(4.0, None, 1.5, [1.5, 1.5, 1.0], id="MR-06"),
        pytest.param(70, 5, None, [70], id="no largest: one batch"),
        pytest.param(3, 5, None, [5], id="no largest: one smallest batch"),
        pytest.param(3.3, None, None, [3.3], id="neither: one batch of the net need"),
    ],
)
def test_full_batches_first_and_none_below_the_smallest(
    net: float, smallest: float | None, largest: float | None, expected: list[float]
) -> None:
    assert sizes(net, batch_min=smallest, batch_max=largest) == expected


@pytest.mark.parametrize("net", [0.0, 1e-6])
def test_less_than_a_crumb_needs_no_run(net: float) -> None:
    assert planned(table(), {("03-05 12:00", "03-05"): net}) == ()


# --- (a), (b), (d): stock, net need, needed by -----------------------------------------------


def test_stock_is_drawn_in_order_of_moment_then_day_of_use() -> None:
    asked = {("03-05 09:00", "03-06"): 4.0, ("03-05 09:00", "03-05"): 4.0}
    [run] = planned(table(), {**asked, ("03-05 08:00", "03-05"): 1.0}, [lot("COM", "X", 5)])
    # 1 at 08:00, then 4 for 03-05: the need for 03-06 is the first that is not covered.
    assert (run.needed.tolist(), run.net.tolist()) == ([9.0], [4.0])
    assert said(run.starts[-1].start) == "03-05 09:00"


def test_stock_must_be_usable_on_the_day_of_use_not_of_the_load_out() -> None:
    asked = {("03-04 17:00", "03-05"): 4.0}
    assert planned(table(), asked, [lot("COM", "X", 9, "03-05")]) == ()
    [run] = planned(table(), asked, [lot("COM", "X", 9, "03-04")])
    assert run.net.tolist() == [4.0]


def test_stock_is_drawn_first_expired_first() -> None:
    stock = [lot("COM", "X", 5, "03-09"), lot("COM", "X", 5, "03-05")]
    asked = {("03-05 09:00", "03-05"): 5.0, ("03-06 09:00", "03-06"): 5.0}
    assert planned(table(), asked, stock) == ()


def test_stock_on_its_way_covers_what_is_needed_after_it_arrives() -> None:
    stock = Shelf.holding(1, [], [coming("COM", "X", 9, "03-05", "09:00")], CLOCK)
    asked = {("03-05 08:59", "03-05"): 4.0, ("03-05 09:00", "03-05"): 4.0}
    [run] = planned(table(), asked, stock)
    assert run.net.tolist() == [4.0]


def test_the_run_is_needed_by_its_first_need_that_stock_did_not_cover() -> None:
    asked = {("03-05 07:00", "03-05"): 4.0, ("03-05 12:00", "03-05"): 4.0}
    bench = table(batch_minutes=30)
    assert starts(planned(bench, asked)) == [("03-05 06:30", 8.0)]
    assert starts(planned(bench, asked, [lot("COM", "X", 3.5)])) == [("03-05 06:30", 4.5)]
    assert starts(planned(bench, asked, [lot("COM", "X", 4)])) == [("03-05 11:30", 4.0)]


# --- Prep day --------------------------------------------------------------------------------


def test_all_needs_of_one_prep_day_are_made_in_one_run() -> None:
    # Ready 4 hours after an hour of work: 09:00 can wait for 17:00 the day before only, 12:00
    # for 07:00 that day, as can 22:00.
    asked = {
        ("03-05 09:00", "03-05"): 1.0,
        ("03-05 12:00", "03-05"): 2.0,
        ("03-05 22:00", "03-06"): 4.0,
    }
    runs = planned(table(batch_minutes=60, lead_hours=4), asked)
    assert [(run.prep_day, run.made.tolist()) for run in runs] == [
        (day("03-04"), [1.0]),
        (day("03-05"), [6.0]),
    ]


def test_prep_day_is_that_of_one_batch_however_many_the_run_takes() -> None:
    asked = {("03-05 07:00", "03-05"): 30.0, ("03-05 12:00", "03-05"): 1.0}
    runs = planned(table(batch_minutes=60, batch_max=10), asked)
    assert [run.prep_day for run in runs] == [day("03-05")]
    assert starts(runs) == [
        ("03-04 15:00", 10.0),
        ("03-04 16:00", 10.0),
        ("03-04 17:00", 10.0),
        ("03-05 06:00", 1.0),
    ]


def test_needs_whose_latest_start_is_past_are_made_with_those_of_today() -> None:
    asked = {("03-02 06:30", "03-02"): 1.0, ("03-02 12:00", "03-02"): 2.0}
    [run] = planned(table(batch_minutes=60), asked)
    assert (run.prep_day, run.made.tolist(), run.late) == (day("03-02"), [3.0], True)


# --- (e) leftovers ---------------------------------------------------------------------------


def test_what_is_left_is_stock_for_later_prep_days_until_its_use_by() -> None:
    asked = {(f"03-{on} 12:00", f"03-{on}"): 4.0 for on in ("03", "04", "05", "06")}
    runs = planned(table(life=2, batch_min=10), asked)
    # Made 03-03, good to 03-05: 6 are left, 4 go on 03-04, 2 on 03-05.
    assert [(run.prep_day, run.net.tolist(), run.left.tolist()) for run in runs] == [
        (day("03-03"), [4.0], [6.0]),
        (day("03-05"), [2.0], [8.0]),
    ]


def test_leftovers_have_the_use_by_of_the_runs_last_batch() -> None:
    asked = {("03-05 06:30", "03-05"): 11.0, ("03-06 12:00", "03-06"): 9.0}
    runs = planned(table(life=1, batch_min=10, batch_max=10, batch_minutes=30), asked)
    # One batch on the evening of 03-04, the last at 06:00 on 03-05: the rest is good to 03-06.
    assert starts(runs) == [("03-04 17:30", 10.0), ("03-05 06:00", 10.0)]
    assert len(runs) == 1


def test_life_counts_from_the_start_of_the_batch_hands_off_hours_or_not() -> None:
    asked = {("03-05 12:00", "03-05"): 4.0, ("03-06 12:00", "03-06"): 4.0}
    bench = table(life=1, batch_min=10, batch_minutes=60, lead_hours=24)
    runs = planned(bench, asked)
    # Started 03-04 11:00 and good to 03-05, although it is ready only on 03-05.
    assert [run.net.tolist() for run in runs] == [[4.0], [4.0]]


def test_a_batch_past_its_use_by_on_a_day_of_use_is_planned_and_named() -> None:
    asked = {("03-05 12:00", "03-05"): 4.0}
    [run] = planned(table(life=0, lead_hours=24, batch_minutes=60), asked)
    assert (starts((run,)), run.does_not_last) == ([("03-04 11:00", 4.0)], True)
    [run] = planned(table(life=1, lead_hours=24, batch_minutes=60), asked)
    assert run.does_not_last is False


# --- When ------------------------------------------------------------------------------------


def test_mr_08_twelve_hands_off_hours_then_four_more_below() -> None:
    # inventory-theory.md MR-08: needed 03-06 07:00; 12 h before is 19:00; 4 h before, 15:00.
    [upper] = planned(table(hours=(None, None), lead_hours=12), {("03-06 07:00", "03-06"): 1.0})
    assert said(upper.starts[0].start) == "03-05 19:00"
    lower = planned(table(hours=(None, None), lead_hours=4), {("03-05 19:00", "03-05"): 1.0})
    assert starts(lower) == [("03-05 15:00", 1.0)]


def test_hands_off_hours_run_through_nights_and_closing_days() -> None:
    bench = table(lead_hours=30, batch_minutes=60, closed=("03-04",))
    assert starts(planned(bench, {("03-05 12:00", "03-05"): 1.0})) == [("03-03 17:00", 1.0)]


@pytest.mark.parametrize(
    ("needed", "expected"),
    [
        pytest.param("03-08 07:00", "03-07 22:00", id="spring: 8 hours from 22:00 end at 07:00"),
        pytest.param("11-01 05:00", "10-31 22:00", id="autumn: 8 hours from 22:00 end at 05:00"),
    ],
)
def test_hands_off_hours_are_elapsed_hours(needed: str, expected: str) -> None:
    # inventory-theory.md TZ-04.
    bench = table(hours=(None, None), lead_hours=8)
    assert starts(planned(bench, {(needed, needed[:5]): 1.0})) == [(expected, 1.0)]


def test_batches_are_worked_one_after_the_other_back_from_the_last() -> None:
    bench = table(batch_minutes=90, batch_max=10, closed=("03-04",))
    assert starts(planned(bench, {("03-05 09:30", "03-05"): 40.0})) == [
        ("03-03 15:00", 10.0),
        ("03-03 16:30", 10.0),
        ("03-05 06:30", 10.0),
        ("03-05 08:00", 10.0),
    ]


def test_batches_without_minutes_start_together() -> None:
    bench = table(batch_max=10)
    assert starts(planned(bench, {("03-05 09:30", "03-05"): 25.0})) == [("03-05 09:30", 25.0)]


def test_mr_10_batches_that_should_have_started_start_now_and_are_late() -> None:
    # inventory-theory.md MR-10: due now, marked late; never dropped nor moved to the past.
    bench = table(batch_minutes=60, batch_max=10, as_of="03-02 10:30")
    [run] = planned(bench, {("03-02 13:00", "03-02"): 35.0})
    assert [(said(one.start), one.qty.tolist(), one.late) for one in run.starts] == [
        ("03-02 10:30", [20.0], True),
        ("03-02 11:00", [10.0], False),
        ("03-02 12:00", [5.0], False),
    ]
    assert run.made.tolist() == [35.0]


def test_late_batches_start_at_as_of_even_where_the_place_is_shut() -> None:
    [run] = planned(table(closed=("03-02",)), {("03-02 13:00", "03-02"): 3.0})
    assert (starts((run,)), run.late) == ([("03-02 06:00", 3.0)], True)


# --- Paths -----------------------------------------------------------------------------------


def test_paths_with_more_batches_share_the_starts_of_the_last_ones() -> None:
    bench = table(batch_minutes=60, batch_max=10)
    [run] = planned(bench, {("03-05 12:00", "03-05"): [0.0, 7.0, 17.0, 27.0]})
    assert run.batches.tolist() == [0, 1, 2, 3]
    assert [(said(one.start), one.qty.tolist()) for one in run.starts] == [
        ("03-05 09:00", [0.0, 0.0, 0.0, 10.0]),
        ("03-05 10:00", [0.0, 0.0, 10.0, 10.0]),
        ("03-05 11:00", [0.0, 7.0, 7.0, 7.0]),
    ]


def test_paths_whose_stock_lasts_longer_start_later() -> None:
    asked = {("03-05 07:00", "03-05"): [2.0, 6.0], ("03-05 12:00", "03-05"): [4.0, 4.0]}
    runs = planned(table(batch_minutes=30), asked, [lot("COM", "X", 3)])
    assert starts(runs, 0) == [("03-05 11:30", 3.0)]
    assert starts(runs, 1) == [("03-05 06:30", 7.0)]


@st.composite
def benches(draw: st.DrawFn) -> PrepTable:
    smallest = draw(st.none() | st.integers(1, 6))
    return table(
        life=draw(st.none() | st.integers(0, 3)),
        closed=tuple(draw(st.sets(st.sampled_from(["03-03", "03-04", "03-06"])))),
        batch_min=smallest,
        batch_max=draw(st.none() | st.integers(smallest or 1, 9)),
        batch_minutes=draw(st.sampled_from([0, 20, 90])),
        lead_hours=draw(st.sampled_from([0, 3, 20])),
    )


moments = st.sampled_from(
    ["03-02 05:00", "03-03 07:00", "03-03 19:30", "03-04 12:00", "03-06 11:00"]
)
quantities = st.integers(0, 40).map(lambda tenths: tenths / 2)
askings = st.dictionaries(
    st.tuples(moments, st.sampled_from(["03-06", "03-07"])),
    st.lists(quantities, min_size=3, max_size=3),
    min_size=1,
)
stocks = st.lists(
    st.builds(
        lambda qty, use_by: lot("COM", "X", qty, use_by),
        quantities,
        st.sampled_from([None, "03-04", "03-06", "03-07"]),
    ),
    max_size=3,
)


@settings(deadline=None)
@given(benches(), askings, stocks)
def test_made_and_stock_are_drawn_left_or_wasted(
    bench: PrepTable, asked: Asked, stock: list[StockLot]
) -> None:
    shelf = Shelf.holding(3, stock, [], CLOCK)
    opening = shelf.total()
    runs = planned(bench, asked, shelf)
    made = sum((run.made for run in runs), np.zeros(3))
    asked_in_all = np.sum(list(asked.values()), axis=0)
    np.testing.assert_allclose(made + opening, asked_in_all + shelf.total(), atol=1e-9)
    for run in runs:
        total = np.sum([one.qty for one in run.starts], axis=0)
        np.testing.assert_allclose(total, run.made, atol=1e-9)


@settings(deadline=None)
@given(benches(), askings, stocks)
def test_a_plan_on_all_paths_is_the_plan_of_each_path_alone(
    bench: PrepTable, asked: Asked, stock: list[StockLot]
) -> None:
    together = planned(bench, asked, stock)
    for path in range(3):
        alone = planned(bench, {key: qty[path] for key, qty in asked.items()}, stock)
        assert starts(together, path) == starts(alone)


@settings(deadline=None)
@given(benches(), askings, stocks)
def test_every_batch_is_within_its_limits_and_inside_working_hours(
    bench: PrepTable, asked: Asked, stock: list[StockLot]
) -> None:
    limits, minutes = bench.recipe, bench.recipe.batch_minutes
    alone = planned(bench, {key: qty[0] for key, qty in asked.items()}, stock)
    for batch in (one for run in alone for one in run.starts if not one.late):
        opens, closes = bench.hours.window(batch.day)
        assert opens <= batch.start <= closes - minutes * 60
        assert bench.hours.place.is_open(batch.day)
        if minutes:
            assert (limits.batch_min or 0) - 1e-9 <= batch.qty[0]
            assert batch.qty[0] <= (limits.batch_max or np.inf) + 1e-9
