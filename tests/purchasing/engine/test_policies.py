"""Rival rules of ordering, worked by hand (Broekmeulen and van Donselaar 2009 as the reference
table of inventory theory tells it)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from math import sqrt
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from purchasing.engine.inputs import ParRule
from purchasing.engine.lines import Line
from purchasing.engine.policies import (
    POLICIES,
    PastUse,
    decide_by,
    expected_outdating,
    mean_need,
    outdating_need,
)
from purchasing.engine.replay_inputs import ONE, ReplayLine
from tests.purchasing.engine.line_scenes import AS_OF, CERTAIN, daily, line, march

TODAY = march(2)  # a Monday


def past(by_day: Mapping[date, float], began: date | None = None) -> PastUse:
    use = {day: round(qty * ONE) for day, qty in by_day.items()}
    known = ReplayLine("COM", "LEEK", 3, (), use)
    return PastUse.of(known, TODAY, began or min(by_day))


def steady(qty: float, days: int = 80) -> PastUse:
    return past({TODAY - timedelta(days=n): qty for n in range(1, days + 1)})


def asked(**more: Any) -> Line:
    return line(daily({}), as_of=AS_OF, **more)


def test_the_mean_is_that_of_56_days_a_day_without_use_counted() -> None:
    by_day = {TODAY - timedelta(days=n): 7.0 for n in range(1, 57, 2)}
    assert past(by_day | {TODAY - timedelta(days=57): 1000.0}).mean == 3.5


def test_of_a_young_kitchen_only_the_days_since_its_first_count() -> None:
    by_day = {TODAY - timedelta(days=n): 7.0 for n in range(1, 11)}
    assert past(by_day).mean == 7
    assert past({TODAY - timedelta(days=1): 3.0}, began=TODAY - timedelta(days=3)).mean == 1
    assert past({TODAY: 5.0}).mean == 0


def test_mean_asks_for_a_quarter_more_than_mean_use_until_the_second_delivery() -> None:
    """10 a day for the 5 days to D2 on the 7th, and a quarter: 62.5; 18 there, 9 on order."""
    one = asked(stock=[(18, 9)], coming=[(4, 5, 9), (9, 4, 12)])
    assert mean_need(one, steady(10)) == pytest.approx(62.5 - 18 - 9)
    (decision,) = decide_by(mean_need, {("COM", "LEEK"): steady(10)}, [one], CERTAIN)
    assert (decision.cases, decision.verdict.have) == (4, 27)


def test_nothing_is_ordered_where_there_is_enough() -> None:
    one = asked(stock=[(80, 9)])
    (decision,) = decide_by(mean_need, {("COM", "LEEK"): steady(10)}, [one], CERTAIN)
    assert (decision.cases, decision.verdict.raw_need) == (0, 0)


def test_what_will_outdate_is_simulated_at_mean_use_first_expired_first() -> None:
    """10 a day from the 2nd: of 25 until the 3rd 5 outdate; 30 come on the 4th, good to the
    5th: 10 outdate; what keeps longer is not touched."""
    one = asked(stock=[(25, 3), (50, 20)], coming=[(4, 30, 5)])
    assert expected_outdating(one, TODAY, [10] * 4) == 15
    assert expected_outdating(one, TODAY, [10] * 3) == 5
    assert expected_outdating(one, TODAY, [13] * 4) == 30 - 26


def test_what_dies_on_the_last_day_before_the_second_delivery_still_serves_it() -> None:
    steady_use = steady(10)
    dying = asked(stock=[(90, 6)])  # D2 is the 7th
    keeping = asked(stock=[(90, 30)])
    assert outdating_need(dying, steady_use) == outdating_need(keeping, steady_use)
    a_day_sooner = asked(stock=[(90, 5)])
    assert outdating_need(a_day_sooner, steady_use) == outdating_need(keeping, steady_use) + 50


def test_safety_covers_the_spread_about_the_weekdays_until_the_second_delivery() -> None:
    """Weekends use 30, other days 10, and every other week 3 more or less."""
    days = [TODAY - timedelta(days=n) for n in range(1, 57)]
    use = {
        day: (30.0 if day.weekday() >= 5 else 10.0) + (3 if (TODAY - day).days % 14 < 7 else -3)
        for day in days
    }
    known = past(use)
    sd = sqrt(56 * 9 / 49)  # seven means are learnt from 56 days
    assert known.spread == pytest.approx(sd)
    one = asked(between=(4, 8), level=0.9)  # Monday to Saturday
    mean = 5 * 10 + 30
    assert outdating_need(one, known) == pytest.approx(mean + norm.ppf(0.9) * sd * sqrt(6))


def test_a_weekday_without_a_day_on_record_uses_the_overall_mean() -> None:
    known = past({TODAY - timedelta(days=n): 4.0 * n for n in (1, 2, 3)})
    assert known.mean_on(TODAY) == known.mean == 8
    assert known.mean_on(TODAY + timedelta(days=6)) == 4
    assert known.spread == 0


ROWS = (
    ParRule("COM", "LEEK", None, 10.0, "fixed", 0.9),
    ParRule("COM", "RICE", 2, 5.0, "greater"),
    ParRule("COM", "SALT", None, None, "forecast"),
)
LINES = [("COM", "LEEK"), ("COM", "RICE"), ("COM", "SALT"), ("COM", "MINT")]


def test_every_line_is_put_on_the_basis_of_the_policy_and_keeps_its_level() -> None:
    pars = POLICIES["cost"].pars(ROWS, LINES)
    every_day = {row.item: row for row in pars if row.weekday is None}
    assert set(every_day) == {"LEEK", "RICE", "SALT", "MINT"}
    assert {row.basis for row in pars} == {"cost"}
    assert every_day["LEEK"].service_level == 0.9


def test_a_policy_that_needs_a_par_invents_none() -> None:
    pars = POLICIES["fixed"].pars(ROWS, LINES)
    assert [row.item for row in pars] == ["LEEK", "RICE", "SALT"]
    assert {row.basis for row in pars} == {"fixed"}


@pytest.mark.parametrize("name", ["pars", "mean", "outdating", "recorded"])
def test_other_policies_leave_the_rows_as_they_are(name: str) -> None:
    assert POLICIES[name].pars(ROWS, LINES) == ROWS


def test_more_stock_never_asks_for_more() -> None:
    rng = np.random.default_rng(4)
    for _ in range(50):
        known = past({TODAY - timedelta(days=n): float(rng.poisson(9)) for n in range(1, 57)})
        lots = [(float(rng.integers(0, 40)), int(rng.integers(2, 12))) for _ in range(3)]
        use_by = int(rng.integers(2, 12))
        for need in (mean_need, outdating_need):
            with_more = need(asked(stock=[*lots, (5.0, use_by)]), known)
            assert with_more <= need(asked(stock=lots), known) + 1e-9
