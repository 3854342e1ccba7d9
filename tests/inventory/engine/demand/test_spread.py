from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.demand.spread import (
    FEWEST_ROWS,
    Errors,
    Spread,
    demand_chances,
    demand_quantiles,
    fit_spread,
)

LEVELS = np.array([0.5, 0.9])


def errors(y: np.ndarray, mean: np.ndarray, row: np.ndarray | None = None) -> Errors:
    none = np.zeros(len(y), dtype=np.int64)
    return Errors(
        y=y,
        mean=mean,
        row=none if row is None else row,
        lead=none,
        weekday=none,
        event=none,
        weeks=np.ones(len(y)),
    )


def variance(spread: Spread, mean: float, row: int = 0) -> float:
    none = np.array([0])
    return float(spread.variance(np.array([mean]), np.array([row]), none, none, none)[0])


def poisson_errors(mean: float, rows: int = 4000) -> Errors:
    y = np.random.default_rng(2).poisson(mean, rows).astype(float)
    return errors(y, np.full(rows, mean))


def test_poisson_errors_give_the_mean_as_variance() -> None:
    assert variance(fit_spread(poisson_errors(20.0), 1, 7), 20.0) == pytest.approx(20.0, rel=0.1)


def test_errors_steadier_than_poisson_give_less() -> None:
    y = np.random.default_rng(2).normal(400.0, 8.0, 3000)
    found = fit_spread(errors(y, np.full(3000, 400.0)), 1, 7)
    assert variance(found, 400.0) == pytest.approx(64.0, rel=0.15)


def test_too_few_errors_give_the_prior() -> None:
    few = poisson_errors(20.0, FEWEST_ROWS - 1)
    assert variance(fit_spread(few, 1, 7), 10.0) == pytest.approx(10.0 + 9.0 + 0.02)


def test_an_uneven_series_is_wider_than_an_even_one() -> None:
    rng = np.random.default_rng(3)
    y = np.concatenate([rng.normal(100.0, 5.0, 500), rng.normal(100.0, 30.0, 500)])
    found = fit_spread(errors(y, np.full(1000, 100.0), np.repeat([0, 1], 500)), 2, 7)
    assert variance(found, 100.0, 1) > 6.0 * variance(found, 100.0, 0)


def test_levels_stay_where_coverage_was_right_and_move_where_it_was_not() -> None:
    fair = fit_spread(poisson_errors(8.0), 1, 7)
    assert fair.right_levels(LEVELS) == pytest.approx(LEVELS, abs=0.02)
    low = errors(np.full(2000, 9.0), np.full(2000, 10.0))
    assert fit_spread(low, 1, 7).right_levels(np.array([0.5]))[0] < 0.5


@given(st.floats(0.01, 3000.0), st.floats(0.05, 50.0))
def test_quantiles_of_any_shape_are_ordered_and_finite(mean: float, ratio: float) -> None:
    levels = np.array([0.01, 0.3, 0.5, 0.9, 0.99])
    found = demand_quantiles(np.array([mean]), np.array([mean * ratio]), levels)[0]
    assert np.isfinite(found).all()
    assert (np.diff(found) >= 0).all()
    assert found[0] >= 0


@given(st.floats(0.1, 500.0), st.floats(0.3, 20.0), st.integers(0, 600))
def test_chances_enclose_the_level_of_their_own_quantile(mean: float, ratio: float, y: int) -> None:
    below, at_most = demand_chances(
        np.array([mean]), np.array([mean * ratio]), np.array([float(y)])
    )
    assert 0.0 <= below[0] <= at_most[0] <= 1.0 + 1e-9


def test_chance_of_a_quantile_is_its_level() -> None:
    mean, spread = np.array([300.0]), np.array([900.0])
    y = demand_quantiles(mean, spread, np.array([0.9]))[:, 0]
    assert demand_chances(mean, spread, y)[1] == pytest.approx([0.9], abs=1e-3)
