"""The ratios asked for, where benchmarks are asked for: ``pytest -m benchmark``."""

from __future__ import annotations

import pytest

from tests.benchmarks.ordering import ALONE, KINDS, measure

MOST = 10
# An order alone goes up case by case from none, and a pass over the few days of one life is short:
# half of the time is what laying out a line and its reasons take, whatever the days.
MOST_ALONE = 25


@pytest.mark.benchmark
@pytest.mark.parametrize("kind", KINDS)
def test_deciding_takes_ten_passes_at_most(kind: str) -> None:
    found = measure(KINDS[kind]())
    print(f"\n{kind}: {found.ratio:.1f} x one pass")
    assert found.ratio <= (MOST_ALONE if kind == ALONE else MOST)
