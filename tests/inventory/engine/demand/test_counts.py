from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inventory.engine.demand.counts import count_quantiles
from inventory.engine.demand.joint import strata
from inventory.engine.demand.normal import mean_above, normal_quantile
from inventory.engine.demand.shrink import pulled

means = st.floats(0.05, 5000.0)
ratios = st.floats(1.01, 400.0)
CHANCE = np.array([[0.01, 0.1, 0.5, 0.9, 0.99]])


@pytest.mark.parametrize(("mean", "variance"), [(0.3, 0.5), (5.0, 5.5), (40.0, 400.0), (200, 300)])
def test_short_supports_are_exact(mean: float, variance: float) -> None:
    chance = (np.arange(500) + 0.5)[None, :] / 500
    found = count_quantiles(np.array([float(mean)]), np.array([float(variance)]), chance)
    exact = stats.nbinom(mean**2 / (variance - mean), mean / variance).ppf(chance)
    assert np.array_equal(found, exact)


def test_equal_mean_and_variance_is_poisson() -> None:
    chance = (np.arange(500) + 0.5)[None, :] / 500
    found = count_quantiles(np.array([7.0]), np.array([7.0]), chance)
    assert np.array_equal(found, stats.poisson(7.0).ppf(chance))


@given(means, ratios)
def test_long_supports_stay_within_two_percent_of_the_spread(mean: float, ratio: float) -> None:
    variance = mean * ratio
    found = count_quantiles(np.array([mean]), np.array([variance]), CHANCE)
    exact = stats.nbinom(mean / (ratio - 1.0), 1.0 / ratio).ppf(CHANCE)
    assert found == pytest.approx(exact, abs=1.0 + 0.02 * mean + 0.13 * ratio)


@given(means, ratios)
def test_quantiles_never_fall_with_the_level(mean: float, ratio: float) -> None:
    found = count_quantiles(np.array([mean]), np.array([mean * ratio]), CHANCE)
    assert (np.diff(found[0]) >= 0).all()
    assert (found >= 0).all()


def test_rows_do_not_disturb_each_other() -> None:
    mean, variance = np.array([3.0, 0.0, 900.0]), np.array([9.0, 0.0, 90_000.0])
    chance = np.tile(CHANCE, (3, 1))
    together = count_quantiles(mean, variance, chance)
    apart = [count_quantiles(mean[[row]], variance[[row]], CHANCE)[0] for row in range(len(mean))]
    assert np.array_equal(together, np.array(apart))


def test_normal_quantile_equals_the_reference_library() -> None:
    chance = np.array([1e-6, 0.001, 0.024, 0.3, 0.5, 0.8, 0.976, 0.9999])
    assert normal_quantile(chance) == pytest.approx(stats.norm.ppf(chance), abs=1e-7)


def test_mean_above_a_bound_equals_the_truncated_normal() -> None:
    mean, sd, bound = np.array([10.0, 10.0]), np.array([3.0, 3.0]), np.array([9.0, 14.0])
    exact = [stats.truncnorm((b - 10) / 3, np.inf, 10, 3).mean() for b in bound]
    assert mean_above(mean, sd, bound) == pytest.approx(exact, rel=1e-6)


@given(st.integers(1, 50), st.integers(0, 1000))
def test_strata_use_every_slice_once(paths: int, seed: int) -> None:
    scores = np.random.default_rng(seed).normal(size=(3, paths))
    slices = np.sort(strata(scores), axis=1)
    assert slices == pytest.approx(np.tile((np.arange(paths) + 0.5) / paths, (3, 1)))


@given(st.floats(0, 100), st.floats(0.1, 50), st.floats(0, 100), st.floats(0, 50))
def test_a_shrunk_mean_lies_between_its_own_and_the_prior(
    own: float, weight: float, prior: float, strength: float
) -> None:
    found = float(pulled(np.array(own * weight), np.array(weight), prior, strength))
    assert min(own, prior) - 1e-9 <= found <= max(own, prior) + 1e-9
