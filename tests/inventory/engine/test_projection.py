"""Stock projected first expired first (R6): the order of one day, published cases, and what
must hold for any stock."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.draws import NO_HOUR, DrawKey, Draws
from inventory.engine.kitchen import Coming, StockLot
from inventory.engine.projection import Floats, Lots, Projected, project, stocks_at_once
from inventory.engine.weighted import chance, mean
from tests.benchmarks.projection import measure_plain, stocks
from tests.inventory.engine.small_kitchens import CLOCK, at, day
from tests.oracle import shelf as oracle

AS_OF = at("03-02 06:00")
Row = tuple[str, str | None, str, float]  # day, hour, day of use, quantity


def lot(
    qty: float, use_by: str | None = None, received: str = "03-01", strip: str = ""
) -> StockLot:
    return StockLot("COM", "LEEK", qty, use_by and day(use_by) or None, day(received), strip)


def due(qty: float, on: str, use_by: str | None = None, hour: str | None = None) -> Coming:
    arrives = None if hour is None else time.fromisoformat(hour)
    return Coming("COM", "LEEK", day(on), qty, use_by and day(use_by) or None, arrives)


def usage(*rows: Row) -> Draws:
    parts: list[tuple[DrawKey, Floats]] = [
        ((NO_HOUR if hour is None else at(f"{on} {hour}"), day(on), day(use)), np.array([qty]))
        for on, hour, use, qty in rows
    ]
    return Draws.merged(parts)


def one_stock(held: list[StockLot], coming: list[Coming], draws: Draws) -> Projected:
    lots = Lots.of(held, coming, clock=CLOCK, as_of=AS_OF)
    return project(lots.qty[None], lots.serving(draws)[None], draws.qty[None])


def short(held: list[StockLot], coming: list[Coming], *rows: Row) -> list[float]:
    """What each draw lacks, in the order of the day."""
    return [float(row[0]) for row in one_stock(held, coming, usage(*rows)).short[0]]


def left(held: list[StockLot], coming: list[Coming], *rows: Row) -> list[float]:
    """What is left of each lot, in order of use."""
    return [float(row[0]) for row in one_stock(held, coming, usage(*rows)).left[0]]


# R6, one case for each step of the day.


def test_a_draw_before_the_arrival_takes_from_what_was_carried_in() -> None:
    rows = [("03-04", "07:00", "03-04", 5.0), ("03-04", "09:00", "03-04", 5.0)]
    assert short([], [due(10, "03-04", hour="08:00")], *rows) == [5, 0]


def test_an_arrival_comes_first_when_its_hour_is_that_of_the_draw() -> None:
    assert short([], [due(5, "03-04", hour="07:00")], ("03-04", "07:00", "03-04", 5)) == [0]


def test_an_arrival_without_an_hour_comes_before_the_first_draw() -> None:
    assert short([], [due(5, "03-04")], ("03-04", "00:00", "03-04", 5)) == [0]


def test_a_draw_without_an_hour_comes_after_all_arrivals() -> None:
    assert short([], [due(5, "03-04", hour="23:00")], ("03-04", None, "03-04", 5)) == [0]


def test_what_is_due_today_and_whose_hour_is_past_comes_first() -> None:
    draw = ("03-02", "06:15", "03-02", 5.0)
    assert short([], [due(5, "03-02", hour="05:00")], draw) == [0]
    assert short([], [due(5, "03-02", hour="06:30")], draw) == [5]


def test_a_lot_is_usable_on_its_use_by_day_and_gone_the_day_after() -> None:
    rows = [("03-04", None, "03-04", 3.0), ("03-05", None, "03-05", 3.0)]
    assert short([lot(10, "03-04")], [], *rows) == [0, 3]
    assert left([lot(10, "03-04")], [], *rows) == [7]


def test_a_lot_must_last_until_the_day_of_use() -> None:
    assert short([lot(9, "03-04")], [], ("03-04", "19:30", "03-05", 3)) == [3]


def test_a_lot_passed_over_for_a_later_day_of_use_still_serves_an_earlier_one() -> None:
    rows = [("03-04", "07:00", "03-05", 3.0), ("03-04", "08:00", "03-04", 3.0)]
    assert short([lot(3, "03-04")], [], *rows) == [3, 0]


def test_what_is_not_met_is_lost_and_not_owed() -> None:
    rows = [("03-04", None, "03-04", 8.0), ("03-05", None, "03-05", 5.0)]
    assert short([], [due(5, "03-05")], *rows) == [8, 0]


def test_an_ordered_lot_can_spoil_too() -> None:
    assert left([], [due(5, "03-03", "03-04")], ("03-05", None, "03-05", 5)) == [5]


# inventory-theory.md, section 8: lots A, B, C and usage of 03-05 to 03-10.
A = lot(10, "03-08", "03-02", "A")
B = lot(6, "03-06", "03-04", "B")
C = due(8, "03-05", "03-10")
USED = [4.0, 5.0, 3.0, 4.0, 2.0, 3.0]
WEEK: list[Row] = [(f"03-{5 + n:02}", None, f"03-{5 + n:02}", qty) for n, qty in enumerate(USED)]


def test_rt_01_first_expired_first_out() -> None:
    taken = [[6.0, 10.0, 8.0], *([*left([A, B], [C], *WEEK[: n + 1])] for n in range(6))]
    steps = [[b - a for a, b in zip(after, before, strict=True)]
             for before, after in zip(taken, taken[1:], strict=False)]  # fmt: skip
    assert steps == [[4, 0, 0], [2, 3, 0], [0, 3, 0], [0, 4, 0], [0, 0, 2], [0, 0, 3]]
    assert (left([A, B], [C], *WEEK), short([A, B], [C], *WEEK)) == ([0, 0, 3], [0] * 6)


def test_rt_04_received_is_used_or_expired() -> None:
    assert sum(USED) + sum(left([A, B], [C], *WEEK)) == 10 + 6 + 8


def test_rt_05_equal_use_by_goes_by_receipt_then_by_strip_number() -> None:
    held = [
        lot(1, "03-08", "03-02", "K"),
        lot(2, "03-08", "03-01", "Z"),
        lot(3, "03-08", "03-02", "C"),
    ]
    assert Lots.of(held, [], clock=CLOCK, as_of=AS_OF).qty.tolist() == [2, 3, 1]


def test_rt_06_a_lot_without_use_by_comes_after_every_dated_one() -> None:
    assert left([lot(5), lot(5, "03-30")], [], ("03-05", None, "03-05", 5)) == [0, 5]


def test_rt_07_a_lot_on_hold_is_not_there() -> None:
    held_back = left([replace(A, qty=10)], [C], *WEEK[1:2])
    assert held_back == [5, 8]


def test_a_new_lot_comes_last_among_equals() -> None:
    lots = Lots.of([lot(1, "03-08", "03-04")], [due(2, "03-04", "03-08")], clock=CLOCK, as_of=0)
    with_new, new = lots.with_arrival(day("03-04"), NO_HOUR, day("03-08"))
    assert (with_new.qty.tolist(), new) == ([1, 2, 0], 2)


def test_an_undated_new_lot_comes_after_everything() -> None:
    lots = Lots.of([lot(1), lot(2, "03-08")], [], clock=CLOCK, as_of=AS_OF)
    assert lots.with_arrival(day("03-04"), NO_HOUR, None)[1] == 2


# inventory-theory.md, PE-06: lots 5, 6, 8 with use-by day 1, 2, 4; Poisson 4 a day, here as the
# exact support of four days.


def poisson(mean_: float, most: int) -> Floats:
    counts = np.arange(most + 1)
    logs = np.concatenate([[0.0], np.cumsum(np.log(counts[1:]))])
    return np.asarray(np.exp(counts * np.log(mean_) - mean_ - logs))


def test_pe_06_waste_and_its_chance_by_lot() -> None:
    each, most = poisson(4, 18), 19
    paths = np.stack(np.meshgrid(*[np.arange(most)] * 4, indexing="ij")).reshape(4, -1)
    weights = each[paths].prod(axis=0)
    use_by = np.array([1, 2, 4])
    serves = np.arange(1, 5)[:, None] <= use_by
    found = project(np.array([[5.0, 6.0, 8.0]]), serves[None], paths[None].astype(float))
    wasted = found.left[0]
    assert mean(wasted, weights) == pytest.approx([1.4103042, 1.9290897, 1.0021230], rel=1e-6)
    assert chance(wasted > 0, weights) == pytest.approx([0.6288369, 0.7161578, 0.4131247], rel=1e-6)


# Against plain Python, and against the shelf of the oracle, which knows hours and days of use.


def test_equal_to_plain_loops_to_the_last_bit() -> None:
    assert measure_plain(stocks(40, 25, np.random.default_rng(7)))[1] is True


days = st.integers(2, 9).map(lambda n: date(2026, 3, n))
hours = st.none() | st.sampled_from([time(6), time(7), time(8), time(14), time(23, 30)])
quantities = st.integers(0, 40).map(lambda n: n / 4)
held_lots = st.lists(
    st.builds(
        StockLot, st.just("COM"), st.just("LEEK"), quantities, st.none() | days,
        st.just(date(2026, 3, 1)), st.sampled_from("ABC"),
    ),
    max_size=5,
)  # fmt: skip


@st.composite
def arrivals(draw: st.DrawFn) -> Coming:
    on, life = draw(days), draw(st.none() | st.integers(0, 5))
    use_by = None if life is None else date.fromordinal(on.toordinal() + life)
    return Coming("COM", "LEEK", on, draw(quantities), use_by, draw(hours))


@st.composite
def draw_keys(draw: st.DrawFn) -> DrawKey:
    on, hour = draw(days), draw(hours)
    moment = NO_HOUR if hour is None else max(AS_OF, CLOCK.instant(on, hour))
    return moment, on, date.fromordinal(on.toordinal() + draw(st.sampled_from([0, 0, 0, 1, 2])))


used = st.dictionaries(draw_keys(), quantities, min_size=1, max_size=12)


@given(held_lots, st.lists(arrivals(), max_size=3), used)
def test_equal_to_the_shelf_of_the_oracle(
    held: list[StockLot], coming: list[Coming], drawn: dict[DrawKey, float]
) -> None:
    draws = Draws.of({key: np.array([qty]) for key, qty in drawn.items()})
    found = one_stock(held, coming, draws)
    shelf = oracle.Shelf(
        [oracle.Lot(Fraction(one.qty), one.use_by, date(2026, 3, 1), one.strip) for one in held],
        [oracle.Arrival(one.day, _moment(one), Fraction(one.qty), one.use_by) for one in coming],
        [
            oracle.Draw(on, None if moment == NO_HOUR else moment, use, Fraction(qty))
            for (moment, on, use), qty in drawn.items()
        ],
        AS_OF,
        date(2026, 3, 2),
    )
    story = shelf.run(date(2026, 3, 30))
    lost = {(d.moment if d.moment is not None else NO_HOUR, d.day, d.day_of_use): q
            for d, q in story.lost}  # fmt: skip
    keys = zip(draws.moment, draws.day, draws.day_of_use, strict=True)
    expected = [
        lost.get((int(m), date.fromordinal(int(on)), date.fromordinal(int(use))), 0)
        for m, on, use in keys
    ]
    assert found.short[0, :, 0].tolist() == expected
    undated = sum(one.qty for one in shelf.lots)
    assert found.left.sum() == undated + sum(qty for _, qty in story.spoiled)


def _moment(one: Coming) -> int | None:
    return None if one.arrives is None else CLOCK.instant(one.day, one.arrives)


# inventory-theory.md, section 12. Lots as (qty, arrives, use-by), days 0 to 7.

lot_rows = st.lists(
    st.tuples(quantities, st.integers(0, 5), st.integers(0, 6)).map(
        lambda row: (row[0], row[1], row[1] + row[2])
    ),
    min_size=1,
    max_size=5,
)
weeks = st.lists(quantities, min_size=8, max_size=8)


def by_use_by(rows: list[tuple[float, int, int]]) -> list[tuple[float, int, int]]:
    return sorted(rows, key=lambda row: (row[2], row[1]))


def run(rows: list[tuple[float, int, int]], week: list[float]) -> tuple[float, float]:
    """Total short and total left at the use-by of each lot."""
    qty, arrives, use_by = (np.array(column) for column in zip(*by_use_by(rows), strict=True))
    on = np.arange(len(week))[:, None]
    serves = (arrives <= on) & (on <= use_by)
    found = project(qty[None], serves[None], np.array(week)[None, :, None])
    return float(found.short.sum()), float(found.left.sum())


@given(lot_rows, weeks, st.integers(0, 7))
def test_more_demand_never_raises_waste(
    rows: list[tuple[float, int, int]], week: list[float], on: int
) -> None:
    more = [qty + (n == on) for n, qty in enumerate(week)]
    assert run(rows, more)[1] <= run(rows, week)[1]


@given(lot_rows, weeks, st.data())
def test_more_of_a_lot_never_lowers_waste_nor_raises_what_is_lost(
    rows: list[tuple[float, int, int]], week: list[float], data: st.DataObject
) -> None:
    n = data.draw(st.integers(0, len(rows) - 1))
    more = [(qty + (i == n), a, u) for i, (qty, a, u) in enumerate(rows)]
    assert run(more, week)[0] <= run(rows, week)[0]
    assert run(more, week)[1] >= run(rows, week)[1]


@given(lot_rows, weeks, st.data())
def test_a_day_more_of_life_never_raises_waste_nor_what_is_lost(
    rows: list[tuple[float, int, int]], week: list[float], data: st.DataObject
) -> None:
    n = data.draw(st.integers(0, len(rows) - 1))
    longer = [(qty, a, u + (i == n)) for i, (qty, a, u) in enumerate(rows)]
    assert run(longer, week)[0] <= run(rows, week)[0]
    assert run(longer, week)[1] <= run(rows, week)[1]


@given(lot_rows, weeks)
def test_what_was_there_is_used_or_left_and_nothing_is_negative(
    rows: list[tuple[float, int, int]], week: list[float]
) -> None:
    lost, unused = run(rows, week)
    assert sum(qty for qty, _, _ in rows) == sum(week) - lost + unused
    assert lost >= 0 and unused >= 0


@given(held_lots, used)
def test_the_order_of_the_rows_changes_nothing(
    held: list[StockLot], drawn: dict[DrawKey, float]
) -> None:
    backwards = Draws.of({key: np.array([drawn[key]]) for key in reversed(drawn)})
    draws = Draws.of({key: np.array([qty]) for key, qty in drawn.items()})
    found, again = one_stock(held, [], draws), one_stock(held[::-1], [], backwards)
    assert np.array_equal(found.short, again.short) and np.array_equal(found.left, again.left)


def test_stocks_and_paths_do_not_touch_each_other() -> None:
    part = stocks(12, 6, np.random.default_rng(3))
    whole = part.projected()
    first = replace(part, qty=part.qty[:5], arrives=part.arrives[:5], use_by=part.use_by[:5],
                    usage=part.usage[:5, :, :3]).projected()  # fmt: skip
    assert np.array_equal(first.short, whole.short[:5, :, :3])
    assert np.array_equal(first.left, whole.left[:5, :, :3])


def test_it_can_be_continued_from_where_it_stood() -> None:
    part = stocks(6, 4, np.random.default_rng(4))
    serves = np.ones((6, 14, 8), dtype=np.bool_)
    whole = project(part.qty, serves, part.usage)
    half = project(part.qty, serves[:, :6], part.usage[:, :6])
    rest = project(half.left, serves[:, 6:], part.usage[:, 6:])
    assert np.array_equal(rest.left, whole.left)
    assert np.array_equal(rest.short, whole.short[:, 6:])


def test_no_draws_and_no_lots_are_no_trouble() -> None:
    none = project(np.zeros((2, 0)), np.zeros((2, 3, 0), dtype=np.bool_), np.ones((2, 3, 4)))
    assert none.short.sum() == 24
    assert (
        project(np.ones((2, 1)), np.zeros((2, 0, 1), dtype=np.bool_), np.ones((2, 0, 4))).left.sum()
        == 8
    )


@pytest.mark.parametrize(
    ("paths", "stocks_together"), [(1, 256), (200, 125), (1000, 25), (10**6, 1)]
)
def test_memory_stays_low_whatever_the_number_of_paths(paths: int, stocks_together: int) -> None:
    assert stocks_at_once(paths) == stocks_together
