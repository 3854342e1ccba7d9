"""The basis cost (R10) against the exact optimum on small perishable cases; the whole table is
``python -m tests.benchmarks.perishable``.

Known demand, an order every day, lost sales, oldest first. The optimum is value iteration over
every state, and the decisions of a run are evaluated exactly on every state they lead to.
"""

from __future__ import annotations

import pytest

from tests.benchmarks.perishable import COSTS, DEMANDS, ByRun, Case, changing, lumpy, poisson
from tests.published.perishable import cost_a_day, solve

SMALL = {
    "one day more, slow": Case(1, 1, 1, (poisson(2),)),
    "one day more, cases of 4": Case(1, 2, 4, (poisson(4),)),
    "two days more, lumpy": Case(2, 1, 4, (lumpy(3),)),
    "three days more, lead 2, cases of 4": Case(3, 2, 4, (poisson(2),)),
    "a week more, slow, cases of 4": Case(7, 1, 4, (poisson(0.4),)),
}


def above_optimum(case: Case) -> float:
    ours = cost_a_day(case.problem, ByRun(case, draws=2), warm_up=30, likely=1e-6)
    return ours / solve(case.problem).a_day - 1


@pytest.mark.parametrize("case", SMALL.values(), ids=list(SMALL))
def test_within_five_percent_of_the_optimum(case: Case) -> None:
    assert -1e-6 <= above_optimum(case) <= 0.05


def test_within_five_percent_where_every_weekday_is_different() -> None:
    case = Case(1, 1, 1, next(changing((0.5, 0.5, 1.0, 1.0, 1.0, 2.0, 1.0), 1, 2.0)).cycle)
    assert -1e-6 <= above_optimum(case) <= 0.05


@pytest.mark.parametrize("demand", DEMANDS)
def test_a_larger_bound_on_stock_changes_no_optimum(demand: str) -> None:
    """What the solution leaves out is never worth while."""
    case = next(DEMANDS[demand]())
    wider = Case(case.life, case.lead, case.size, case.cycle).problem
    larger = type(wider)(
        wider.cycle, wider.days, wider.lead, wider.orders, COSTS, (wider.most or 0) + 4
    )
    assert solve(larger).a_day == pytest.approx(solve(wider).a_day, rel=1e-5)
