"""The ratio asked for, where benchmarks are asked for: ``pytest -m benchmark``."""

from __future__ import annotations

import pytest

from tests.benchmarks.rollout import measure


@pytest.mark.benchmark
@pytest.mark.parametrize("life", [1, 3, 7])
def test_choosing_cases_by_cost_takes_ten_passes_at_most(life: int) -> None:
    found = measure(life)
    print(f"\nlife {life}: {found.ratio:.1f} x one pass")
    assert found.ratio <= 10
