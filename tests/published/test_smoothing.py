"""Intermittent demand and exponential smoothing: inventory-theory.md CT-01 to CT-04 and ES-01.

Product C: Makridakis, Wheelwright and Hyndman 1998. Oil: Hyndman and Athanasopoulos, as in the
tests of statsmodels.
"""

from __future__ import annotations

import pytest

from tests.published.smoothing import Croston, by_tsb, levels

PRODUCT_C = [0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0]
PRODUCT_C += [0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0]
OIL = [446.6565229, 454.4733065, 455.6629740, 423.6322388, 456.2713279, 440.5880501]
OIL += [425.3325201, 485.1494479, 506.0481621, 526.7919833, 514.2688890, 494.2110193]


@pytest.mark.parametrize(
    ("days", "size", "gap", "forecast"),
    [
        pytest.param(24, 3.4454410, 2.5287, 1.3625345, id="CT-01"),
        pytest.param(36, 2.7502538, 2.7932801, 0.9845965, id="CT-02"),
    ],
)
def test_ct_croston(days: int, size: float, gap: float, forecast: float) -> None:
    found = Croston.of(PRODUCT_C[:days], 0.1)
    assert (found.size, found.gap) == pytest.approx((size, gap), rel=1e-6)
    assert found.forecast == pytest.approx(forecast, rel=1e-6)


@pytest.mark.parametrize(
    ("days", "sba", "sbj", "tsb"),
    [(24, 1.2944078, 1.2908222, 0.6694230), (36, 0.9353667, 0.9327757, 0.8040651)],
)
def test_ct_03_corrected_for_its_bias(days: int, sba: float, sbj: float, tsb: float) -> None:
    values = PRODUCT_C[:days]
    found = Croston.of(values, 0.1)
    *_, last = by_tsb(values, 0.1)
    assert (found.by_sba, found.by_sbj) == pytest.approx((sba, sbj), rel=1e-6)
    assert last == pytest.approx(tsb, rel=1e-6)


def test_ct_04_what_is_no_longer_sold_falls_with_tsb_alone() -> None:
    values = [3, 0, 0, 5, 0, 2, 0, 0, 0, 0]
    assert Croston.of(values, 0.2).forecast == pytest.approx(3.12 / 1.52)
    assert Croston.of(values[:6], 0.2).forecast == Croston.of(values, 0.2).forecast
    after = [2.4, 1.92, 2.4208, 1.93664, 2.045722, 1.636577, 1.309262, 1.047409, 0.8379276]
    assert list(by_tsb(values, 0.2))[1:] == pytest.approx(after, rel=1e-6)


def test_es_01_levels_of_oil() -> None:
    printed = [446.656523, 448.219880, 449.708498, 444.493247, 446.848863, 445.596700]
    printed += [441.543864, 450.264981, 461.421617, 474.495690, 482.450330, 484.802468]
    assert list(levels(OIL, 0.2)) == pytest.approx(printed, abs=1e-6)
    *_, faster = levels(OIL, 0.6)
    *_, fitted = levels(OIL, 0.891998, start=447.47844)
    assert (faster, fitted) == pytest.approx((501.837461, 496.493543), abs=1e-4)
