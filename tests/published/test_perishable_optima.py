"""Published optima and heuristics of perishable stock (inventory-theory.md, section 5), by the
exact solution and the rules that the basis cost is measured against.

DGB: De Moor, Gijsbrechts and Boute, *EJOR* 301 (2022) 535. FAR: Farrington, Wong, Li and Utley,
*Annals of Operations Research* 349 (2025) 1609, table 3. HEN: Hendrix et al., *Computational
and Mathematical Methods* 1 (2019) e1027. BVD: Broekmeulen and van Donselaar, *Computers &
Operations Research* 36 (2009) 3013.
"""

from __future__ import annotations

from functools import cache
from itertools import islice

import numpy as np
import pytest
from scipy import stats

from tests.published import rivals
from tests.published.perishable import Costs, Counts, Problem, Solution, costs_of_days, solve

DISCOUNT = 0.99
WARM_UP, YEAR = 100, 365
LONGEST = 30  # demand beyond it has a chance of 10^-9


def gamma_demand() -> tuple[float, ...]:
    """Mean 4, coefficient of variation 0.5, cut at half-integers."""
    edges = np.array([0.0, *np.arange(0.5, LONGEST)])
    chances = np.diff(stats.gamma(4, scale=1).cdf(edges))
    return tuple(chances / chances.sum())


@cache
def solved(days: int, lead: int, wasted: float, newest_first: bool) -> Solution:
    """3 a unit ordered, 5 short, 1 held but not on the night it goes; up to 10 ordered."""
    costs = Costs(5, wasted, 1, 3, holds_last=False)
    return solve(
        Problem((gamma_demand(),), days, lead, tuple(range(11)), costs, newest_first=newest_first),
        discount=DISCOUNT,
    )


def test_the_demand_has_the_printed_chances() -> None:
    chances = np.array(gamma_demand())
    printed = [0.001752, 0.063891, 0.176781, 0.220943, 0.194337]
    assert chances[:5] == pytest.approx(printed, abs=5e-7)
    assert chances @ np.arange(LONGEST) == pytest.approx(4.000113, abs=5e-7)


# id: days, lead, waste cost, newest first, value of the empty state, FAR's optimum. Larger ones
# and newest first with a lead of 2 take longer than a test may.
OPTIMA = {
    "VI-01 newest first": (2, 1, 7, True, 1603.5974, 1553),
    "VI-01": (2, 1, 7, False, 1510.4701, 1457),
    "VI-02": (2, 1, 10, False, 1516.6218, 1463),
    "VI-03": (2, 2, 7, False, 1528.4892, 1461),
    "VI-04": (2, 2, 10, False, 1535.7878, 1469),
    "VI-05": (3, 1, 7, False, 1479.0589, 1424),
    "VI-06": (3, 1, 10, False, 1479.7516, 1425),
}
each_optimum = pytest.mark.parametrize(
    ("days", "lead", "wasted", "newest_first", "empty", "printed"),
    OPTIMA.values(),
    ids=list(OPTIMA),
)


@each_optimum
def test_the_value_of_the_empty_state(
    days: int, lead: int, wasted: float, newest_first: bool, empty: float, printed: float
) -> None:
    assert solved(days, lead, wasted, newest_first).empty == pytest.approx(empty, rel=1e-6)


@each_optimum
def test_a_year_after_a_hundred_days_is_within_one_of_the_published_optimum(
    days: int, lead: int, wasted: float, newest_first: bool, empty: float, printed: float
) -> None:
    """FAR's figures are means of 10,000 runs with a standard deviation of 52 to 64."""
    solution = solved(days, lead, wasted, newest_first)
    paid = costs_of_days(solution.problem, solution.policy, days=WARM_UP + YEAR)
    year = sum(money * DISCOUNT**day for day, money in enumerate(islice(paid, WARM_UP, None)))
    assert year == pytest.approx(printed, abs=1)


@pytest.mark.parametrize(
    ("days", "lead", "wasted", "par", "printed"),
    [
        pytest.param(2, 1, 7, 7, 1474.55, id="VI-01"),
        pytest.param(2, 2, 7, 9, 1495.21, id="VI-03"),
        pytest.param(3, 1, 10, 8, 1436.73, id="VI-06"),
    ],
)
def test_the_published_pars_cost_what_is_printed(
    days: int, lead: int, wasted: float, par: int, printed: float
) -> None:
    problem = solved(days, lead, wasted, False).problem

    def fill_up(states: Counts, day: int) -> Counts:
        return np.asarray(np.maximum(0, par - states.sum(axis=1)))

    paid = costs_of_days(problem, fill_up, days=WARM_UP + YEAR)
    year = sum(money * DISCOUNT**day for day, money in enumerate(islice(paid, WARM_UP, None)))
    assert year == pytest.approx(printed, abs=0.01)


def orders_by_stock(solution: Solution) -> list[list[int]]:
    """Row: fresh 0 to 8, column: old 0 to 8."""
    states = np.array([(old, fresh) for fresh in range(9) for old in range(9)])
    return np.asarray(solution.policy(states, 0)).reshape(9, 9).tolist()


def test_vi_14_newest_first_the_order_depends_on_fresh_stock_only() -> None:
    """DGB, figure 3."""
    found = orders_by_stock(solved(2, 1, 7, True))
    assert found == [[order] * 9 for order in (3, 3, 3, 2, 1, 0, 0, 0, 0)]


def test_vi_15_oldest_first_all_81_orders_are_the_published_ones() -> None:
    """DGB, figure 3."""
    rows = [
        "444444444", "443333333", "433322222",
        "332211111", "322111100", "221100000",
        "211000000", "110000000", "100000000",
    ]  # fmt: skip
    assert orders_by_stock(solved(2, 1, 7, False)) == [[int(n) for n in row] for row in rows]


def test_a_unit_more_in_stock_lowers_the_order_by_one_at_most_a_fresh_one_no_less() -> None:
    """Section 12: the property of the optimum, oldest first."""
    orders = np.array(orders_by_stock(solved(2, 1, 7, False)))
    by_fresh, by_old = -np.diff(orders, axis=0)[:, :-1], -np.diff(orders, axis=1)[:-1]
    for drop in (by_fresh, by_old):
        assert set(np.unique(drop)) <= {0, 1}
    assert (by_fresh >= by_old).all()


# inventory-theory.md, EW-01 and EW-02: lots of 14, 6 and 10, use-by in 1, 2 and 5 days.
LOTS = (14, 6, 0, 0, 10)


@pytest.mark.parametrize(
    ("newest_first", "expired", "order"),
    [pytest.param(False, 6, 6, id="EW-01"), pytest.param(True, 14, 18, id="EW-02")],
)
def test_expected_outdating_is_not_counted_as_stock(
    newest_first: bool, expired: int, order: int
) -> None:
    """BVD; mean 8 a day, lead 2, safety 5, packs of 6."""
    found = rivals.expected_outdating(LOTS, [0], 8, 2, newest_first=newest_first)
    assert found == expired
    ordered = rivals.by_outdating(LOTS, [0], mean=8, safety=5, case=6, newest_first=newest_first)
    assert ordered == order


def test_without_expected_outdating_the_rule_is_a_par() -> None:
    assert rivals.by_outdating((0, 0, 0, 0, 30), [0], mean=8, safety=5, case=6) == 0


def test_ew_03_whole_demands_carry_their_difference() -> None:
    assert list(islice(rivals.whole_demands(2.5), 6)) == [3, 2, 3, 2, 3, 2]


@pytest.mark.parametrize(("stock", "order"), [(9, 6), (13, 0)])
def test_ew_04_the_waste_conscious_par(stock: int, order: int) -> None:
    """HEN, equation 10."""
    assert rivals.waste_conscious(stock, 7, par=13, mean=5) == order


@pytest.mark.parametrize(("position", "waste", "order"), [(5, 1, 6), (10, 0, 2), (12, 0, 0)])
def test_ew_05_the_par_falls_where_stock_is_low(position: int, waste: int, order: int) -> None:
    """Haijema and Minner, as restated in DGB, page 7."""
    found = rivals.low_stock_par(position, waste, low_par=8, par=12, below=10)
    assert found == pytest.approx(order)


@pytest.mark.parametrize(("threshold", "order"), [(0.5, 16), (0.7, 8)])
def test_ew_06_old_units_are_ordered_again_where_their_share_is_large(
    threshold: float, order: int
) -> None:
    """Duan and Liao 2013, restated."""
    assert rivals.by_age(12, 8, par=20, threshold=threshold) == order
