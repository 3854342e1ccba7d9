"""Accuracy measures against reference tables AC-01 to AC-13 (values by scikit-learn,
utilsforecast, properscoring and scoringrules, as noted there)."""

from __future__ import annotations

import numpy as np
import pytest

from inventory.engine.demand.counts import count_quantiles
from inventory.engine.demand.normal import normal_quantile
from inventory.engine.demand.scores import (
    bias,
    coverage,
    crps_of_quantiles,
    crps_of_sample,
    interval_score,
    mase,
    newsvendor_quantile,
    pinball,
    rmsse,
    score,
    wape,
)

TRAIN = np.array([3.0, 5, 4, 6, 8, 7])
ACTUAL = np.array([9.0, 6, 0, 5])
FORECAST = np.array([7.0, 6, 2, 5])
NINE = np.array([10.0, 8, 4, 5])
# Product C of reference table CT-01, CT-02.
TRAIN_C = np.array([0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0.0])
TEST_C = np.array([0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0.0])


def test_ac_01_wape_and_bias() -> None:
    assert wape(ACTUAL, FORECAST) == pytest.approx(0.2)
    assert bias(ACTUAL, FORECAST) == 0.0


def test_ac_02_mase() -> None:
    assert mase(TRAIN, ACTUAL, FORECAST) == pytest.approx(0.625)


def test_ac_03_rmsse() -> None:
    assert rmsse(TRAIN, ACTUAL, FORECAST) == pytest.approx(0.8451543, abs=1e-7)


def test_ac_04_rmsse_counts_from_the_first_sale() -> None:
    train = np.concatenate([[0.0, 0.0], TRAIN])
    assert rmsse(train, ACTUAL, FORECAST) == pytest.approx(0.8451543, abs=1e-7)


def test_ac_05_pinball() -> None:
    assert pinball(ACTUAL, FORECAST, 0.5).mean() == pytest.approx(0.5)
    assert pinball(ACTUAL, NINE, 0.9) == pytest.approx([0.1, 0.2, 0.4, 0.0])
    assert pinball(np.array([9.0, 9.0]), np.array([11.0, 7.0]), 0.9) == pytest.approx([0.2, 1.8])


def test_ac_06_coverage_counts_equals_as_covered() -> None:
    assert coverage(ACTUAL, NINE) == 1.0


@pytest.mark.parametrize(("actual", "expected"), [(15, 10), (23, 40), (8, 30)])
def test_ac_07_interval_score(actual: float, expected: float) -> None:
    low, high = np.array([10.0]), np.array([20.0])
    assert interval_score(np.array([actual]), low, high, 0.8) == pytest.approx([expected])


def test_ac_08_crps_of_a_sample() -> None:
    sample = np.array([1.0, 2, 4, 8])
    assert crps_of_sample(sample, 3.0) == pytest.approx(0.8125)
    assert crps_of_sample(sample, 3.0, fair=True) == pytest.approx(1 / 3)


LEVELS = (np.arange(20_000) + 0.5) / 20_000


@pytest.mark.parametrize(
    ("mean", "sd", "actual", "expected"),
    [(0, 1, 0, 0.2336950), (0, 1, 1, 0.6024414), (50, 8, 60, 6.2958732)],
)
def test_ac_09_crps_of_the_normal_is_twice_the_pinball_over_all_levels(
    mean: float, sd: float, actual: float, expected: float
) -> None:
    quantiles = mean + sd * normal_quantile(LEVELS)
    assert crps_of_quantiles(LEVELS, quantiles, actual) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("mean", "variance", "actual", "expected"),
    [(5, 5, 7, 1.2654818), (20, 60, 26, 3.9588122)],
    ids=["Poisson(5)", "NB(10, 1/3)"],
)
def test_ac_09_crps_of_counts(mean: float, variance: float, actual: float, expected: float) -> None:
    moments = np.array([float(mean)]), np.array([float(variance)])
    quantiles = count_quantiles(*moments, LEVELS[None, :])[0]
    assert crps_of_quantiles(LEVELS, quantiles, actual) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("forecast", "expected"), [(0.0, 0.1982759), (4 / 3, 0.4406130), (1.3625345, 0.4502628)]
)
def test_ac_10_mase_of_product_c(forecast: float, expected: float) -> None:
    found = mase(TRAIN_C, TEST_C, np.full(12, forecast))
    assert found == pytest.approx(expected, abs=1e-7)


def test_ac_11_ratio_of_sums_never_the_mean_of_ratios() -> None:
    found = wape(np.array([100.0, 2.0]), np.array([90.0, 6.0]))
    assert found == pytest.approx(0.1372549, abs=1e-7)


def test_ac_12_what_does_not_exist_is_said_to_be_missing() -> None:
    nothing, some = np.zeros(3), np.ones(3)
    assert wape(nothing, some) is None
    assert bias(nothing, some) is None
    assert mase(np.full(5, 4.0), some, nothing) is None
    assert rmsse(nothing, some, nothing) is None
    assert coverage(np.array([]), np.array([])) is None
    empty = np.zeros((0, 2))
    assert (
        score(np.array([]), np.array([]), empty, np.array([0.5, 0.9]), np.zeros(0, int)).wape
        is None
    )


def test_ac_13_only_the_inverse_of_the_distribution_answers_the_newsvendor() -> None:
    """The days of NV-12."""
    days = np.array([18, 22, 25, 25, 27, 30, 31, 34, 40, 52.0])
    assert newsvendor_quantile(days, 0.8) == 34.0
    assert np.quantile(days, 0.8) == pytest.approx(35.2)


def test_mase_of_the_naive_forecast_on_its_own_train_is_one() -> None:
    assert mase(TRAIN, TRAIN[1:], TRAIN[:-1]) == pytest.approx(1.0)
