"""The larger published optima of perishable stock (inventory-theory.md, VI-01 to VI-13), on the
full grid of states, and newest first, which takes long where states are listed.

FAR: Farrington, Wong, Li and Utley, *Annals of Operations Research* 349 (2025) 1609, table 3
(means of 10,000 runs with a standard deviation of 52 to 64). The value of the empty state is
our own.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.published.full_grid import Grid, GridSolution, solve_grid
from tests.published.perishable import Costs
from tests.published.test_perishable_optima import DISCOUNT, WARM_UP, YEAR, gamma_demand, solved

Case = tuple[int, int, int, bool]
OLDEST, NEWEST = False, True

# days, lead, waste cost, issue: value of the empty state, FAR's optimum.
OPTIMA = {
    (2, 1, 7, NEWEST): (1603.5974, 1553),  # VI-01
    (2, 1, 7, OLDEST): (1510.4701, 1457),
    (2, 1, 10, NEWEST): (1621.5629, 1571),  # VI-02
    (2, 2, 7, NEWEST): (1615.0696, 1551),  # VI-03
    (2, 2, 10, NEWEST): (1632.8554, 1569),  # VI-04
    (3, 1, 7, NEWEST): (1542.6981, 1490),  # VI-05
    (3, 1, 10, NEWEST): (1550.7863, 1498),  # VI-06
    (3, 2, 7, NEWEST): (1576.9120, 1513),  # VI-07
    (3, 2, 7, OLDEST): (1504.6980, 1435),
    (3, 2, 10, NEWEST): (1589.6943, 1526),  # VI-08
    (3, 2, 10, OLDEST): (1505.7036, 1437),
    (4, 1, 7, NEWEST): (1512.8553, 1459),  # VI-09
    (4, 1, 7, OLDEST): (1477.2126, 1422),
    (4, 1, 10, NEWEST): (1518.3457, 1465),  # VI-10
    (4, 1, 10, OLDEST): (1477.2304, 1422),
    (4, 2, 7, NEWEST): (1546.3733, 1480),  # VI-11
    (4, 2, 7, OLDEST): (1501.9648, 1432),
    (4, 2, 10, NEWEST): (1554.4615, 1489),
    (4, 2, 10, OLDEST): (1502.0305, 1432),
    (5, 1, 7, NEWEST): (1497.3783, 1443),  # VI-12
    (5, 1, 7, OLDEST): (1477.1649, 1422),
    (5, 1, 10, NEWEST): (1500.3590, 1446),
    (5, 1, 10, OLDEST): (1477.1652, 1422),
}
# VI-13: 1.77 million states, for each of which orders and demands are tried; no value of ours.
LARGEST = {
    (5, 2, 7, NEWEST): 1463,
    (5, 2, 7, OLDEST): 1432,
    (5, 2, 10, NEWEST): 1467,
    (5, 2, 10, OLDEST): 1432,
}


@cache
def on_grid(days: int, lead: int, wasted: float, newest_first: bool) -> GridSolution:
    """As test_perishable_optima has it: 3 a unit ordered, 5 short, 1 held but not on the night
    it goes; up to 10 ordered."""
    costs = Costs(5, wasted, 1, 3, holds_last=False)
    return solve_grid(Grid(gamma_demand(), days, lead, 10, costs, newest_first), discount=DISCOUNT)


def named(case: Case) -> str:
    days, lead, wasted, newest_first = case
    return f"{days} {lead}, {wasted}, {'newest' if newest_first else 'oldest'} first"


@pytest.mark.parametrize("case", OPTIMA, ids=named)
def test_the_value_of_the_empty_state(case: Case) -> None:
    assert on_grid(*case).empty == pytest.approx(OPTIMA[case][0], rel=1e-6)


@pytest.mark.parametrize("case", OPTIMA, ids=named)
def test_a_year_is_within_one_of_the_published_optimum(
    case: Case,
) -> None:
    year = on_grid(*case).year(warm_up=WARM_UP, days=YEAR, discount=DISCOUNT)
    assert year == pytest.approx(OPTIMA[case][1], abs=1)


@pytest.mark.benchmark
@pytest.mark.parametrize("case", LARGEST, ids=named)
def test_vi_13_a_year_is_within_one_of_the_published_optimum(
    case: Case,
) -> None:
    year = on_grid(*case).year(warm_up=WARM_UP, days=YEAR, discount=DISCOUNT)
    on_grid.cache_clear()
    print(f"\n{named(case)}: {year:.2f}, printed {LARGEST[case]}")
    assert year == pytest.approx(LARGEST[case], abs=1)


@pytest.mark.parametrize(
    "case", [(2, 1, 7, NEWEST), (2, 2, 7, OLDEST), (3, 1, 10, OLDEST)], ids=named
)
def test_the_grid_and_the_list_of_states_answer_alike(
    case: Case,
) -> None:
    """Two programs for one model."""
    grid, listed = on_grid(*case), solved(*case)
    assert grid.empty == pytest.approx(listed.empty, rel=1e-6)
    states = listed.problem.states[(listed.problem.states <= grid.grid.largest).all(axis=1)]
    places = np.ravel_multi_index(list(states.T), (grid.grid.size,) * states.shape[1])
    assert (grid.orders.ravel()[places] == listed.policy(states, 0)).all()


@pytest.mark.parametrize(("days", "lead", "wasted"), [(2, 1, 7), (3, 1, 10), (3, 2, 7), (5, 1, 7)])
def test_newest_first_costs_no_less_than_oldest_first(days: int, lead: int, wasted: float) -> None:
    """Section 12."""
    newest, oldest = (on_grid(days, lead, wasted, issue) for issue in (NEWEST, OLDEST))
    assert newest.empty >= oldest.empty
