"""Published and worked values of count statistics (reference tables ST, EB, JS, MX)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from inventory.engine.demand.counts import (
    count_quantiles,
    fit_by_moments,
    thinned,
    thinned_covariance,
)
from inventory.engine.demand.shrink import (
    dirichlet_multinomial_covariance,
    dirichlet_shares,
    gamma_posterior_mean,
    gamma_predictive_variance,
    towards_grand_mean,
)


def units(counts: list[int]) -> np.ndarray:
    """A frequency table (how many units had 0, 1, 2 ... ) as a plain sample."""
    return np.repeat(np.arange(len(counts), dtype=float), counts)


def test_st_01_deaths_by_horse_kick_are_poisson() -> None:
    """Bortkiewicz (1898)."""
    fit = fit_by_moments(units([109, 65, 22, 3, 1]))
    assert fit.mean == pytest.approx(0.61)
    assert fit.variance == pytest.approx(0.6109548, abs=1e-7)


def test_st_02_mites_on_apple_leaves_by_moments() -> None:
    """Bliss and Fisher (1953)."""
    fit = fit_by_moments(units([70, 38, 17, 10, 9, 3, 2, 1, 0]))
    assert fit.mean == pytest.approx(1.1466667, abs=1e-7)
    assert fit.variance == pytest.approx(2.2736465, abs=1e-7)
    assert fit.r == pytest.approx(1.1666974, abs=1e-7)


def test_st_03_overdispersed_sample() -> None:
    fit = fit_by_moments(np.array([12, 9, 15, 30, 11, 8, 14, 22, 10, 13], dtype=float))
    assert (fit.mean, fit.variance) == pytest.approx((14.4, 45.6))
    assert (fit.r, fit.chance) == pytest.approx((6.6461538, 0.3157895), abs=1e-7)


def test_st_04_less_spread_than_poisson_is_taken_as_poisson() -> None:
    fit = fit_by_moments(np.array([10, 11, 9, 10, 10, 12, 9, 10], dtype=float))
    assert fit.variance < fit.mean
    assert (fit.r, fit.chance) == (None, None)


@pytest.mark.parametrize(
    ("days", "expected"),
    [(1, [19, 30, 34]), (2, [39, 54, 59]), (3, [59, 78, 83])],
    ids=["one day", "two days", "three days"],
)
def test_st_05_quantiles_of_summed_days(days: int, expected: list[int]) -> None:
    """NB(10 n, 1/3): mean 20 n, variance 60 n."""
    chance = np.array([[0.5, 0.9, 0.95]])
    found = count_quantiles(np.array([20.0 * days]), np.array([60.0 * days]), chance)
    assert found.tolist() == [expected]


def test_st_06_dishes_of_one_turnout() -> None:
    """Total variance."""
    mean, variance = np.array(200.0), np.array(1000.0)
    first = thinned(mean, variance, np.array(0.3))
    second = thinned(mean, variance, np.array(0.2))
    covariance = thinned_covariance(200.0, 1000.0, 0.3, 0.2)
    assert first == pytest.approx((60.0, 132.0))
    assert covariance == pytest.approx(48.0)
    correlation = covariance / float(np.sqrt(first[1] * second[1]))
    assert correlation == pytest.approx(0.4923660, abs=1e-7)
    assert thinned_covariance(200.0, 200.0, 0.3, 0.2) == 0.0


def test_eb_01_gamma_prior_moves_to_own_mean() -> None:
    days, total = np.array([0.0, 1.0, 4.0, 20.0]), np.array([0.0, 62.0, 212.0, 1010.0])
    mean = gamma_posterior_mean(8.0, 0.2, days, total)
    variance = gamma_predictive_variance(8.0, 0.2, days, total)
    assert mean == pytest.approx([40.0, 58.3333333, 52.3809524, 50.3960396], abs=1e-7)
    assert variance == pytest.approx([240.0, 106.9444444, 64.8526077, 52.8908930], abs=1e-7)
    assert (variance >= mean).all()


FAILURES = np.array([5.0, 1, 5, 14, 3, 19, 1, 1, 4, 22])
HOURS = np.array([94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])


def test_eb_02_pumps_pulled_towards_each_other() -> None:
    """Gaver and O'Muircheartaigh (1987): the gamma prior of highest likelihood, own figures."""

    def unlikely(logs: np.ndarray) -> float:
        shape, rate = np.exp(logs)
        return -float(stats.nbinom(shape, rate / (rate + HOURS)).logpmf(FAILURES).sum())

    found = optimize.minimize(unlikely, np.zeros(2), method="Nelder-Mead", tol=1e-10)
    shape, rate = np.exp(found.x)
    assert (shape, rate) == pytest.approx((0.82297, 1.26165), abs=1e-4)
    rates = [0.0609, 0.1075, 0.0908, 0.1165, 0.5880, 0.6069, 0.7886, 0.7886, 1.4347, 1.9405]
    assert gamma_posterior_mean(shape, rate, HOURS, FAILURES) == pytest.approx(rates, abs=6e-5)


HITS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
SEASON = [0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256]
SEASON += [0.303, 0.264, 0.226, 0.285, 0.316, 0.200]


def test_js_01_how_far_the_averages_are_pulled() -> None:
    """Efron and Morris (1977): the factor is printed as 0.212."""
    average = np.array(HITS) / 45.0
    centre = average.mean()
    shrunk = towards_grand_mean(average, centre * (1.0 - centre) / 45.0)
    kept = (shrunk - centre) / (average - centre)
    assert kept == pytest.approx(np.full(len(HITS), 0.2116534), abs=1e-7)


def test_js_02_batting_averages_shrunk() -> None:
    """Efron and Morris (1975)."""
    average = np.array(HITS) / 45.0
    centre = average.mean()
    shrunk = towards_grand_mean(average, centre * (1.0 - centre) / 45.0)
    published = [0.294, 0.289, 0.285, 0.280, 0.275, 0.275, 0.270, 0.266, 0.261, 0.261]
    published += [0.256] * 5 + [0.252, 0.247, 0.242]
    assert centre == pytest.approx(0.2654321, abs=1e-7)
    assert shrunk == pytest.approx(published, abs=6e-4)


def test_js_03_shrunk_averages_are_nearer_the_season() -> None:
    """Efron and Morris (1975)."""
    average, season = np.array(HITS) / 45.0, np.array(SEASON)
    centre = average.mean()
    shrunk = towards_grand_mean(average, centre * (1.0 - centre) / 45.0)
    assert ((average - season) ** 2).sum() == pytest.approx(0.0753170, abs=1e-7)
    assert ((shrunk - season) ** 2).sum() == pytest.approx(0.0213069, abs=1e-7)
    assert (np.abs(shrunk - season) < np.abs(average - season)).sum() == 16


def test_mx_01_menu_mix_after_some_sales() -> None:
    """Dirichlet-multinomial."""
    prior, sold = np.array([10.0, 6.0, 4.0]), np.array([12.0, 3.0, 5.0])
    shares = dirichlet_shares(prior, sold)
    covariance = dirichlet_multinomial_covariance(prior + sold, 100.0)
    assert shares == pytest.approx([0.55, 0.225, 0.225])
    deviation = np.sqrt(np.diag(covariance))
    assert deviation == pytest.approx([9.1930515, 7.7163905, 7.7163905], abs=1e-7)
    assert covariance[0, 1] == pytest.approx(-42.2560976, abs=1e-7)
