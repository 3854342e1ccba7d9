"""What perishable stock costs a day in the long run, and published heuristics and weekly orders
(inventory-theory.md, VI-16 to VI-20).

HEN: Hendrix et al., *Computational and Mathematical Methods* 1 (2019) e1027. MIR: Mirjalili, PhD
thesis, Toronto 2022, chapter 6. VI-16 and VI-17 are our own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import stats

from tests.published import rivals
from tests.published.full_grid import Grid, GridSolution, solve_grid
from tests.published.perishable import (
    Costs,
    Counts,
    Floats,
    Policy,
    Problem,
    Solution,
    cost_a_day,
    solve,
)
from tests.published.test_perishable_optima import gamma_demand


@cache
def two_days(newest_first: bool) -> Solution:
    """In cycles of two days, since newest first the best orders alternate."""
    costs, cycle = Costs(5, 7, 1, 3, holds_last=False), (gamma_demand(),) * 2
    return solve(Problem(cycle, 2, 1, tuple(range(11)), costs, newest_first=newest_first))


def filling_up(par: int) -> Policy:
    return lambda states, day: np.asarray(np.maximum(0, par - states.sum(axis=1)))


def a_day(problem: Problem, policy: Policy) -> tuple[float, float, float, float]:
    """Money, units wasted, short and ordered a day: each is the money where it alone costs."""
    alone = (problem.costs, Costs(0, 1), Costs(1, 0), Costs(0, 0, ordered=1))
    found = [cost_a_day(replace(problem, costs=each), policy) for each in alone]
    return found[0], found[1], found[2], found[3]


@pytest.mark.parametrize(
    ("newest_first", "par", "best", "by_par"),
    [
        pytest.param(
            False, 7, (14.9544, 0.0217, 1.0954, 2.9264), (15.1316, 0.0471, 0.9386, 3.1087),
            id="VI-16 oldest first",
        ),
        pytest.param(
            True, 5, (15.9206, 0.0610, 1.5611, 2.5000), (16.0626, 0.0534, 1.6587, 2.3948),
            id="VI-17 newest first",
        ),
    ],
)  # fmt: skip
def test_vi_16_and_17_what_a_day_comes_to(
    newest_first: bool,
    par: int,
    best: tuple[float, ...],
    by_par: tuple[float, ...],
) -> None:
    solution = two_days(newest_first)
    problem = solution.problem
    assert a_day(problem, solution.policy) == pytest.approx(best, abs=6e-5)
    assert a_day(problem, filling_up(par)) == pytest.approx(by_par, abs=6e-5)


MEAN, PRICE, PURCHASE = 5, 1.0, 0.5


@cache
def sold(days: int) -> GridSolution:
    """HEN, one product: ordered today for tomorrow, at most the mean of as many days."""
    chances = stats.poisson(MEAN).pmf(np.arange(25))
    demand = tuple((chances / chances.sum()).tolist())
    costs = Costs(short=PRICE, wasted=0, ordered=PURCHASE)
    return solve_grid(Grid(demand, days, 1, MEAN * days, costs))


@pytest.mark.parametrize(("days", "profit"), [(2, 2.2151), (3, 2.3985), (4, 2.4666)])
def test_vi_18_the_best_average_profit(days: int, profit: float) -> None:
    """HEN report 2.22, 2.40 and 2.47: price on all demand, less the cost."""
    assert PRICE * MEAN - sold(days).a_day == pytest.approx(profit, abs=6e-5)


def profit_of(days: int, rule: Callable[[list[int]], int]) -> float:
    """Average, of a rule that may order no more than the optimum may."""
    problem = sold(days).grid.problem

    def policy(states: Counts, day: int) -> Counts:
        return np.array([min(rule(state), problem.orders[-1]) for state in states.tolist()])

    return PRICE * MEAN - cost_a_day(problem, policy)


@pytest.mark.parametrize(("days", "par", "profit"), [(2, 13, 2.19746), (3, 15, 2.39387)])
def test_vi_19_the_waste_conscious_par(days: int, par: int, profit: float) -> None:
    """HEN, equation 10: what expires tonight and will not be used is not counted."""

    def rule(state: list[int]) -> int:
        return rivals.waste_conscious(sum(state), state[0], par=par, mean=MEAN)

    assert profit_of(days, rule) == pytest.approx(profit, abs=6e-6)


def test_vi_19_a_plain_par_earns_less() -> None:
    found = profit_of(2, lambda state: max(0, 13 - sum(state)))
    assert found == pytest.approx(2.18944, abs=6e-6)


# MIR: shape and mean of a negative binomial, Monday first; what is beyond 20 counts as 20.
SHAPES = (3.497361, 10.985837, 7.183407, 11.064622, 5.930222, 5.473242, 2.193797)
MEANS = (5.660569, 6.922555, 6.504332, 6.165049, 5.816060, 3.326408, 3.426814)
LARGEST = 20
SHORT, EXPIRED, HELD, DISCOUNT = 20.0, 5.0, 1.0, 0.95


def weekday(day: int) -> Floats:
    frozen = stats.nbinom(SHAPES[day], SHAPES[day] / (SHAPES[day] + MEANS[day]))
    chances = frozen.pmf(np.arange(LARGEST + 1))
    chances[-1] += frozen.sf(LARGEST)
    return np.asarray(chances)


@cache
def platelets() -> tuple[Floats, Counts]:
    """Discounted value and order of Monday by (two days left, one day left): an order comes at
    once and keeps three days, oldest first, what expires tonight is held as well."""
    stock = np.arange(LARGEST + 1)
    two, one, fresh, demand = np.ix_(stock, stock, stock, stock)
    left_one = np.maximum(one - demand, 0)
    left_two = np.maximum(two - np.maximum(demand - one, 0), 0)
    left = np.maximum(fresh - np.maximum(demand - one - two, 0), 0)
    lost = np.maximum(demand - one - two - fresh, 0)
    paid = SHORT * lost + EXPIRED * left_one + HELD * (left_one + left_two + left)
    values, orders = np.zeros((LARGEST + 1, LARGEST + 1)), np.zeros(0, dtype=np.int64)
    while True:
        before = values
        for day in reversed(range(7)):
            table = (paid + DISCOUNT * values[left, left_two]) @ weekday(day)
            values, orders = table.min(axis=2), table.argmin(axis=2)
        if np.abs(values - before).max() < 1e-6:
            return values, orders


def test_vi_20_orders_of_a_monday() -> None:
    """MIR, figure 6.1: rows by stock of two days left, columns of one day left."""
    values, orders = platelets()
    assert orders[:4, :6].tolist() == [
        [12, 11, 10, 9, 8, 8],
        [11, 10, 9, 8, 7, 7],
        [10, 9, 8, 7, 6, 6],
        [9, 8, 7, 6, 5, 5],
    ]
    assert values[0, 0] == pytest.approx(192.21, abs=5e-3)
