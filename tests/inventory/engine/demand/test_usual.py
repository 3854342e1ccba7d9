"""What a weekday usually brings, and how far it is listened to."""

from __future__ import annotations

import numpy as np
import pytest

from inventory.engine.demand.forecaster import forecast
from inventory.engine.demand.series import Floats, SeriesSet
from inventory.engine.demand.usual import FEWEST_TIMES, averaged, usual

MONDAY = 736_331  # proleptic ordinal of 2017-01-02
WEEKS = 60


def series(qty: Floats, events: bool = False) -> SeriesSet:
    rows, days = qty.shape
    layers = np.full((rows, days + 7, int(events)), fill_value=True)
    outlet = np.arange(rows)
    open_days = np.ones((rows, days + 7), dtype=np.bool_)
    return SeriesSet(qty, np.zeros(qty.shape, dtype=np.bool_), outlet, open_days, layers, MONDAY)


def jumping(seed: int) -> Floats:
    """Levels that jump about one mean from week to week: what a level follows in vain."""
    source = np.random.default_rng(seed)
    weeks = np.repeat(np.exp(source.normal(0.0, 0.25, (6, WEEKS))), 7, axis=1)
    return np.asarray(source.poisson(60.0 * weeks), dtype=np.float64)


def growing(seed: int) -> Floats:
    level = 30.0 * np.exp(np.linspace(0.0, 2.0, 7 * WEEKS))
    return np.asarray(np.random.default_rng(seed).poisson(level, (6, 7 * WEEKS)), dtype=np.float64)


def test_mean_and_variance_are_those_of_the_last_half_year_of_that_weekday() -> None:
    qty = np.tile(np.arange(7.0), (1, 40))
    qty[0, 7 * 39] = 27.0  # the last Monday
    found = usual(qty, MONDAY, qty.shape[1], np.ones(1))
    assert found.mean[:, 0] == pytest.approx([27.0 / 26, 1, 2, 3, 4, 5, 6])
    assert found.variance[0, 0] == pytest.approx(27.0**2 / 26)
    assert not found.variance[1:].any()


def test_nothing_after_the_column_is_looked_at() -> None:
    qty = jumping(1)
    blind = qty.copy()
    blind[:, 300:] = 999.0
    one, other = (usual(figures, MONDAY, 300, np.ones(6)) for figures in (qty, blind))
    assert np.array_equal(one.mean, other.mean)


def test_a_weekday_that_came_seldom_says_nothing() -> None:
    qty = np.ones((1, 7 * (FEWEST_TIMES - 1)))
    assert np.isnan(usual(qty, MONDAY, qty.shape[1], np.ones(1)).mean).all()


def test_what_may_be_off_sale_is_expected_less() -> None:
    found = usual(np.full((1, 140), 8.0), MONDAY, 140, np.array([0.25]))
    assert found.mean == pytest.approx(np.full((7, 1), 2.0))


def test_quantiles_are_averaged_by_the_part() -> None:
    own, levels = np.array([[10.0, 20.0], [10.0, 20.0]]), np.array([0.5, 0.9])
    beside = np.array([50.0, 50.0]), np.array([1e-9, 1e-9])
    found = averaged(own, *beside, np.array([0.0, 0.25]), levels)
    assert found == pytest.approx(np.array([[10.0, 20.0], [20.0, 27.5]]), abs=1e-3)


def test_it_is_listened_to_where_levels_jump_about_one_mean() -> None:
    assert forecast(series(jumping(2))).beside[2].min() > 0


def test_it_is_not_listened_to_where_demand_grows() -> None:
    assert forecast(series(growing(3))).beside[2].max() == 0


def test_it_says_nothing_of_days_with_an_event() -> None:
    assert not forecast(series(jumping(2), events=True)).beside[2].any()
