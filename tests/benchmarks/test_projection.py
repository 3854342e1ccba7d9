"""The ratio asked for, where benchmarks are asked for: ``pytest -m benchmark``."""

from __future__ import annotations

import pytest

from tests.benchmarks.projection import measure


@pytest.mark.benchmark
def test_the_projection_is_a_hundred_times_as_fast_as_plain_loops() -> None:
    found = measure()
    print(f"\nprojection: {found.ratio:.0f} x plain loops")
    assert found.equal
    assert found.ratio >= 100
