"""Tips for pars: what would have lasted the last eight windows, and thrown away how much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, time, timedelta
from fractions import Fraction

import pytest

from inventory.engine.kitchen import Place
from purchasing.engine.inputs import Supplier
from purchasing.engine.par_tips import Span, deliveries, spans, tips, would_have_done
from purchasing.engine.replay_inputs import ONE, Billionths, ReplayLine, Sold
from tests.purchasing.engine.line_scenes import march, offer
from tests.purchasing.engine.replay_scenes import certain, drawn

TUESDAY, FRIDAY = 1, 4
TWICE = Supplier("S1", frozenset({0, 3}), time(14), 1, frozenset({TUESDAY, FRIDAY}))
YARD = Place("COM", "commissary")
FIRST, LAST = -70, 20  # days of March 2026; 20 is a Friday


def line(use: Mapping[date, float], life: int | None = None, pack: float = 1.0) -> ReplayLine:
    sold = Sold(offer(pack), round(pack * ONE))
    exact = {day: round(qty * ONE) for day, qty in use.items()}
    return ReplayLine("COM", "LEEK", life, (sold,), exact)


def windows(life: int | None = None) -> list[Span]:
    return spans(deliveries(TWICE, YARD, march(FIRST), march(LAST)), life, march(LAST))


def same(par: Billionths) -> Billionths:
    return par


def found(one: ReplayLine, level: float = 0.95) -> dict[int, tuple[float, int]]:
    """Par in base units, and how often it ran out, by weekday."""
    answer = tips(one, one.offers[0], windows(one.life), level, same)
    return {tip.weekday: (tip.par / ONE, tip.ran_out) for tip in answer}


def test_deliveries_follow_the_calendar_and_its_closures() -> None:
    closed = replace(TWICE, closed_on=frozenset({march(10)}))
    days = deliveries(closed, YARD, march(2), march(17))
    # the order of Monday 9 comes on Friday 13, with that of Thursday 12
    assert days == [march(3), march(6), march(13), march(17)]


def test_windows_reach_to_the_next_delivery_and_are_eight_of_a_weekday() -> None:
    kept = [one for one in windows() if one.counts]
    assert [sum(one.weekday == day for one in kept) for day in (TUESDAY, FRIDAY)] == [8, 8]
    assert all((one.end - one.start).days == (2 if one.weekday == 1 else 3) for one in kept)
    assert kept[-1].end <= march(LAST)


def test_too_few_windows_give_no_tip() -> None:
    days = deliveries(TWICE, YARD, march(-20), march(LAST))
    few = spans(days, None, march(LAST))
    one = line(certain(FIRST, LAST, 10))
    assert tips(one, one.offers[0], few, 0.95, same) == []


def test_steady_use_asks_for_the_days_until_the_next_delivery() -> None:
    assert found(line(certain(FIRST, LAST, 10))) == {TUESDAY: (30, 0), FRIDAY: (40, 0)}


def test_one_window_in_eight_may_run_out_at_a_lower_level() -> None:
    use = certain(FIRST, LAST, 10) | {march(11): 60.0}  # a Wednesday
    assert found(line(use))[TUESDAY] == (80, 0)
    assert found(line(use), level=0.85)[TUESDAY] == (30, 1)


def test_days_that_no_delivery_can_serve_are_not_asked_for() -> None:
    assert found(line(certain(FIRST, LAST, 10), life=1)) == {TUESDAY: (20, 0), FRIDAY: (20, 0)}


def test_what_whole_cases_would_have_thrown_away_is_counted_by_its_delivery() -> None:
    one = line(certain(FIRST, LAST, 10), life=2, pack=50)
    tuesday, friday = tips(one, one.offers[0], windows(2), 0.95, same)
    # 50 come, 30 are used by the use-by; what is left goes the day after
    assert [tip.thrown_away for tip in (tuesday, friday)] == [8 * 20 * ONE] * 2
    assert tuesday.lost == Fraction(20 * 8) * (one.first_rank_cost(march(3)) or 0)


def test_a_par_that_was_too_small_is_seen_to_run_out() -> None:
    one = line(certain(FIRST, LAST, 10))
    pars = {TUESDAY: 29 * ONE, FRIDAY: 40 * ONE}
    lived = would_have_done(one, one.offers[0], windows(), pars)
    assert [(tip.windows, tip.ran_out) for tip in lived] == [(8, 8), (8, 0)]


@pytest.mark.parametrize("life", [None, 2, 5])
@pytest.mark.parametrize("seed", range(5))
def test_the_level_is_kept_however_uneven_the_use(seed: int, life: int | None) -> None:
    one = line(drawn(seed, 12, FIRST, LAST), life, pack=7)
    for level, allowed in ((0.95, 0), (0.75, 2)):
        assert all(ran_out <= allowed for _, ran_out in found(one, level).values())


def test_the_tip_is_a_figure_that_one_would_set() -> None:
    one = line(certain(FIRST, LAST, 9.7))
    in_fives = [
        tip.par // ONE
        for tip in tips(
            one, one.offers[0], windows(), 0.95, lambda par: -(-par // ONE // 5) * 5 * ONE
        )
    ]
    assert in_fives == [30, 40]


def test_nothing_used_needs_nothing() -> None:
    assert found(line({march(1) - timedelta(days=400): 5.0})) == {TUESDAY: (0, 0), FRIDAY: (0, 0)}
