"""The replay's policy by cost near the optimum, where benchmarks are asked for."""

from __future__ import annotations

import pytest

from tests.benchmarks.perishable import Case
from tests.benchmarks.replay_optimum import SETS, measure, row

MOST_ABOVE = 0.05
CASES = [(demand, case) for demand in ("poisson", "weekly", "steps") for case in SETS[demand]()]


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("demand", "case"),
    CASES,
    ids=[f"{name} life {c.life} lead {c.lead} case {c.size}" for name, c in CASES],
)
def test_by_cost_is_near_the_optimum_where_the_distribution_is_known(
    demand: str, case: Case
) -> None:
    found = measure(case)
    print(f"\n{demand}: {row(found)}")
    known = found.known
    assert known.judged.value <= 1 + MOST_ABOVE
    assert known.drawn.value <= 1 + MOST_ABOVE + 2 * known.drawn.error
