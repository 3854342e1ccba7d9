"""The bars of forecasting, where benchmarks are asked for: ``pytest -m benchmark``. Beside
exponential smoothing only where the extra ``compare`` is installed."""

from __future__ import annotations

import subprocess
import sys
from functools import cache

import pytest

pytestmark = pytest.mark.benchmark


@cache
def printed() -> str:
    """In a process of its own, so that the peak is the forecast's."""
    asked = [sys.executable, "-m", "tests.benchmarks.forecast_speed", "--smoothed", "40"]
    return subprocess.run(asked, check=True, capture_output=True, text=True).stdout


def figure(text: str, before: str, after: str) -> float:
    return float(text.partition(before)[2].partition(after)[0])


def test_ten_thousand_series_take_less_than_two_gigabytes() -> None:
    print(f"\n{printed()}")
    assert figure(printed(), "s, ", " GB") < 2


def test_at_most_a_fifth_of_the_time_of_exponential_smoothing() -> None:
    pytest.importorskip("statsforecast")
    assert figure(printed(), "ours takes ", " of its time") <= 0.2
