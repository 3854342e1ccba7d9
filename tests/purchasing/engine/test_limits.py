"""Limits that must come out (R14) and properties of the order (inventory-theory.md, section 12)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inventory.engine.projection import Floats
from purchasing.engine.costs import cost
from purchasing.engine.lines import Line, Reasons
from purchasing.engine.outlook import Outlook
from tests.published import supports
from tests.purchasing.engine.line_scenes import daily, decided, line, offer

LEVELS = st.floats(0.02, 0.995)


@given(st.floats(0.5, 60), LEVELS, st.integers(1, 12))
@settings(max_examples=60)
def test_one_day_of_poisson_gives_the_smallest_count_whose_chance_is_enough(
    mean: float, level: float, pack: int
) -> None:
    values, weights = supports.poisson(mean)
    one = line(daily({4: values}, len(values)), between=(4, 5), level=level, sold=offer(pack))
    cases = decided(one, weights).cases
    within = stats.poisson(mean)
    assert within.cdf(cases * pack) >= level - 1e-9
    assert cases == 0 or within.cdf((cases - 1) * pack) < level + 1e-9


@given(LEVELS, st.integers(1, 12))
@settings(max_examples=60)
def test_one_day_of_normal_demand_likewise(level: float, pack: int) -> None:
    values, weights = supports.normal(50, 8, steps=2000)
    one = line(daily({4: values}, len(values)), between=(4, 5), level=level, sold=offer(pack))
    qty = decided(one, weights).cases * pack
    step = values[1] - values[0]
    wanted = NormalDist(50, 8).inv_cdf(level)
    assert qty >= wanted - step and qty - pack < wanted + step


def four_days(level: float, stock: float) -> tuple[Line, Floats, float]:
    """T = 2, D1 = 4, D2 = 6: daily normal demand 100 and 10, as the exact support of four
    independent days in cells of half a deviation."""
    values, chances = supports.normal(100, 10)
    edges = np.linspace(60, 140, 16)
    mass, _ = np.histogram(values, edges, weights=chances)
    by_day, weights = supports.days((edges[:-1] + edges[1:]) / 2, supports.scaled(mass), 4)
    use = {2 + n: qty for n, qty in enumerate(by_day)}
    one = line(
        daily(use, len(weights)), between=(4, 6), level=level, stock=[(stock, None)],
        coming=[(3, 40, None), (5, 25, None)],
    )  # fmt: skip
    return one, weights, float(edges[1] - edges[0])


@pytest.mark.parametrize("level", [0.8, 0.9, 0.95, 0.99])
def test_undated_with_no_early_shortage_is_mean_plus_z_sigma_root_n(level: float) -> None:
    one, weights, step = four_days(level, stock=300)
    reasons = decided(one, weights).reasons
    formula = 400 + NormalDist().inv_cdf(level) * 10 * 2 - 300 - 40 - 25
    assert reasons.stockout_chance_before_delivery == 0
    assert reasons.raw_need == pytest.approx(formula, abs=step)


def test_with_an_early_shortage_the_formula_does_not_hold_since_lost_sales_are_not_owed() -> None:
    one, weights, step = four_days(0.95, stock=100)
    reasons = decided(one, weights).reasons
    formula = 400 + NormalDist().inv_cdf(0.95) * 10 * 2 - 100 - 40 - 25
    assert reasons.stockout_chance_before_delivery > 0.99
    assert reasons.raw_need < formula - 5 * step


@pytest.mark.parametrize("count", [50, 200, 1000])
@pytest.mark.parametrize("level", [0.5, 0.8, 0.9, 0.95, 0.99])
def test_sampled_paths_are_right_for_a_level_within_one_path_of_the_one_asked(
    count: int, level: float
) -> None:
    strata = (np.arange(count) + np.random.default_rng(9).random(count)) / count
    use = stats.nbinom(6, 0.2).ppf(strata)
    one = line(daily({4: use}, count), between=(4, 5), level=level)
    need = decided(one, np.full(count, 1 / count)).reasons.raw_need
    below, upto = stats.nbinom(6, 0.2).cdf([need - 1, need])
    assert upto >= level - 1 / count and below <= level + 1 / count


# Properties. Four days of counts on a few paths, one dated and one undated lot.
Rows = Sequence[Sequence[float]]
paths = st.lists(st.lists(st.integers(0, 20), min_size=5, max_size=5), min_size=2, max_size=6)


def week(rows: Rows, **terms: Any) -> tuple[Line, Floats]:
    use = {2 + n: [row[n] for row in rows] for n in range(5)}
    stock = terms.pop("stock", [(9.0, 5), (4.0, None)])
    terms.setdefault("sold", offer(3))
    return line(daily(use, len(rows)), stock=stock, **terms), np.full(len(rows), 1 / len(rows))


def need(rows: Rows, **terms: Any) -> float:
    one, weights = week(rows, **terms)
    return decided(one, weights).reasons.raw_need


@given(paths, LEVELS, st.floats(0, 0.004))
def test_the_order_never_falls_with_the_service_level(
    rows: list[list[int]], level: float, more: float
) -> None:
    assert need(rows, level=level + more) >= need(rows, level=level)


@given(paths, st.integers(0, 4), st.integers(1, 5))
def test_the_order_never_falls_with_usage_from_the_delivery_on(
    rows: list[list[int]], on: int, more: int
) -> None:
    grown = [[qty + more * (n == on and n >= 2) for n, qty in enumerate(row)] for row in rows]
    assert need(grown) >= need(rows) - 1e-6


@given(paths, st.integers(1, 4))
def test_the_order_never_rises_with_what_is_on_order_by_the_delivery(
    rows: list[list[int]], more: int
) -> None:
    assert need(rows, coming=[(4, float(more), None)]) <= need(rows) + 1e-6


@given(paths, st.sampled_from([0.001, 7.0, 1000.0]))
def test_the_unit_changes_nothing_but_the_unit(rows: list[list[int]], scale: float) -> None:
    one, weights = week(rows)
    scaled, _ = week(
        [[qty * scale for qty in row] for row in rows],
        stock=[(9 * scale, 5), (4 * scale, None)],
        sold=offer(3 * scale),
    )
    before, after = decided(one, weights), decided(scaled, weights)
    assert after.cases == before.cases
    assert after.reasons.raw_need == pytest.approx(before.reasons.raw_need * scale, rel=1e-9)


@given(paths)
def test_life_beyond_the_next_delivery_changes_nothing(rows: list[list[int]]) -> None:
    assert need(rows, life=2) == need(rows, life=30) == need(rows)


@given(paths)
def test_one_day_of_life_asks_for_the_day_of_delivery_alone(rows: list[list[int]]) -> None:
    """Life 0 is usable on D1 only: the newsvendor of that day."""
    only_today = [row[:3] + [0, 0] for row in rows]
    assert need(rows, life=0) == need(only_today)


@given(paths)
def test_one_case_fewer_would_miss_the_level(rows: list[list[int]]) -> None:
    one, weights = week(rows, level=0.7, sold=offer(3, minimum_cases=2, case_multiple=2))
    decision = decided(one, weights)
    assert decision.cases % 2 == 0
    assert 1 - decision.reasons.stockout_chance_with >= 0.7 - 1e-9
    if decision.cases > 2:
        outlook = Outlook.of([one], weights)
        fewer = outlook.with_order(np.array([decision.qty - 6.0]))
        short = outlook.late.is_short(fewer, outlook.late.window)[0]
        assert 1 - short @ weights < 0.7


@given(paths)
def test_the_cost_is_convex_in_the_quantity(rows: list[list[int]]) -> None:
    one, weights = week(rows, life=1, shortage_cost=5.0)
    outlook = Outlook.of([one], weights)
    costs = [float(cost(outlook, np.array([float(qty)]))[0]) for qty in range(0, 60, 3)]
    assert np.diff(costs, n=2).min() >= -1e-9


@given(paths, st.randoms(use_true_random=False))
def test_the_order_of_the_paths_changes_nothing(rows: list[list[int]], shuffler: Any) -> None:
    shuffled = rows.copy()
    shuffler.shuffle(shuffled)
    assert _close(decided(*week(rows)).reasons, decided(*week(shuffled)).reasons)


@given(paths)
def test_every_path_twice_at_half_the_weight_changes_nothing(rows: list[list[int]]) -> None:
    assert _close(decided(*week(rows)).reasons, decided(*week(rows + rows)).reasons)


def _close(one: Reasons, other: Reasons) -> bool:
    figures = {
        key: getattr(one, key) for key in one.__slots__ if isinstance(getattr(one, key), float)
    }
    same = {key: pytest.approx(value, abs=1e-9) for key, value in figures.items()}
    return replace(other, **figures) == one and all(
        getattr(other, key) == value for key, value in same.items()
    )


def test_no_usage_is_no_order_on_forecast() -> None:
    assert need([[0] * 5, [0] * 5], stock=[]) == 0
