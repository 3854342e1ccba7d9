from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.engine.demand.forecaster import forecast
from tests.inventory.engine.demand.tables import WEEK_SHAPE, forecast_of, one_outlet

LEVELS = np.array([0.5, 0.7, 0.8, 0.9, 0.95])


def poisson(mean: np.ndarray | float, shape: tuple[int, int], seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).poisson(np.broadcast_to(mean, shape)).astype(float)


def test_a_steady_item_is_forecast_at_its_mean_and_weekday() -> None:
    shape = np.tile(WEEK_SHAPE, 40)
    found = forecast_of(poisson(60.0 * shape, (4, 280)))
    assert found.mean == pytest.approx(np.tile(60.0 * WEEK_SHAPE, (4, 1)), rel=0.15)


def test_quantiles_cover_poisson_demand_as_often_as_they_say() -> None:
    past, future = poisson(20.0, (60, 287)), poisson(20.0, (60, 7), seed=2)
    covered = (future <= forecast_of(past).quantiles(LEVELS)[:, :, 3]).mean()
    assert 0.86 < covered < 0.95


def test_counts_steadier_than_poisson_get_narrow_quantiles() -> None:
    rng = np.random.default_rng(4)
    found = forecast_of(np.rint(rng.normal(400.0, 6.0, (3, 200))))
    width = found.quantiles(LEVELS)[:, :, 4] - found.quantiles(LEVELS)[:, :, 0]
    assert width.mean() < 0.7 * 1.645 * np.sqrt(400.0)


def test_an_event_known_ahead_changes_its_day() -> None:
    events = np.zeros((1, 217, 1), dtype=bool)
    events[0, 10::20, 0] = True
    mean = np.where(events[0, :210, 0], 20.0, 50.0)
    events[0, 212, 0] = True
    found = forecast_of(poisson(mean, (5, 210)), events=events).mean
    assert found[:, 2].mean() < 0.65 * found[:, 1].mean()


def test_a_collapse_nobody_announced_does_not_wreck_the_level() -> None:
    past = poisson(100.0, (3, 200))
    past[:, 195] = 3.0
    assert forecast_of(past).mean.mean() == pytest.approx(100.0, rel=0.08)


def test_a_lasting_drop_is_believed() -> None:
    past = poisson(100.0, (3, 200))
    past[:, 180:] = poisson(40.0, (3, 20), seed=3)
    assert forecast_of(past).mean.mean() == pytest.approx(40.0, rel=0.25)


def test_growth_is_followed() -> None:
    past = poisson(np.linspace(10.0, 80.0, 140), (3, 140))
    assert forecast_of(past).mean.mean() > 65.0


def test_an_item_that_stopped_selling_fades() -> None:
    past = poisson(15.0, (3, 200))
    past[0, 170:] = 0.0
    found = forecast_of(past).mean
    assert found[0].max() < 0.5
    assert found[1].min() > 8.0


def test_an_item_that_sells_rarely_stays_rare() -> None:
    found = forecast_of(poisson(0.2, (20, 200)))
    assert found.mean.mean() == pytest.approx(0.2, rel=0.35)
    assert np.median(found.quantiles(LEVELS)[:, :, 0]) < 0.5


@pytest.mark.parametrize("share", [0.05, 0.1, 0.3])
def test_rare_lumps_are_forecast_at_their_mean(share: float) -> None:
    rng = np.random.default_rng(1)
    shape = (30, 400)
    grams = np.where(rng.random(shape) < share, rng.gamma(4.0, 250.0, shape), 0.0)
    assert forecast_of(grams).mean.mean() == pytest.approx(1000.0 * share, rel=0.2)


def test_slices_of_a_rare_item_keep_its_mean() -> None:
    found = forecast_of(poisson(0.1, (20, 300)))
    slices = [found.slices(row, (np.arange(500) + 0.5) / 500) for row in range(20)]
    assert np.mean(slices) == pytest.approx(found.centre.mean(), rel=0.25)


def test_a_new_item_is_forecast_from_its_first_day() -> None:
    past = poisson(30.0, (3, 200))
    past[2, :199] = np.nan
    past[2, 199] = 12.0
    found = forecast_of(past)
    assert (found.mean[2] > 3.0).all()
    wide = found.quantiles(LEVELS)[2, :, 4] / found.centre[2]
    usual = found.quantiles(LEVELS)[1, :, 4] / found.centre[1]
    assert wide.mean() > usual.mean()


def test_one_day_of_one_item_is_enough() -> None:
    assert (forecast_of(np.array([[7.0]])).mean > 0).all()


@pytest.mark.parametrize("past", [np.zeros((2, 60)), np.full((2, 60), np.nan)])
def test_nothing_ever_sold_is_forecast_as_nothing(past: np.ndarray) -> None:
    found = forecast_of(past)
    assert not found.mean.any()
    assert not found.quantiles(LEVELS).any()


def test_closed_days_are_zero() -> None:
    series = one_outlet(poisson(20.0, (2, 100)))
    shut = series.open_days.copy()
    shut[0, 102] = False
    found = forecast(replace(series, open_days=shut))
    assert not found.mean[:, 2].any()
    assert found.mean[:, 1].all()


def test_sold_out_days_are_lower_bounds() -> None:
    wanted = poisson(30.0, (4, 200))
    series = one_outlet(np.minimum(wanted, 30.0))
    lower = forecast(series).mean.mean()
    lifted = forecast(replace(series, sold_out=wanted >= 30.0)).mean.mean()
    assert lower < 28.5 < lifted < 32.0


def test_the_unit_of_a_quantity_changes_nothing_else() -> None:
    grams = np.random.default_rng(5).gamma(9.0, 33.3, (3, 200))
    one, other = forecast_of(grams), forecast_of(grams / 1000.0)
    assert other.mean * 1000.0 == pytest.approx(one.mean)
    assert other.quantiles(LEVELS) * 1000.0 == pytest.approx(one.quantiles(LEVELS))


def test_a_horizon_longer_than_a_week() -> None:
    shape = np.tile(WEEK_SHAPE, 30)
    found = forecast(one_outlet(poisson(40.0 * shape, (2, 210)), ahead=30))
    assert found.mean.shape == (2, 30)
    assert found.mean[:, 21:28] == pytest.approx(np.tile(40.0 * WEEK_SHAPE, (2, 1)), rel=0.25)


@given(st.integers(0, 500), st.integers(1, 40), st.floats(0.0, 50.0))
@settings(max_examples=25, deadline=None)
def test_quantiles_never_fall_and_are_never_negative(seed: int, days: int, mean: float) -> None:
    found = forecast_of(poisson(mean, (2, days), seed=seed))
    quantiles = found.quantiles(LEVELS)
    assert np.isfinite(quantiles).all()
    assert (quantiles >= 0).all()
    assert (np.diff(quantiles, axis=2) >= 0).all()
    assert (found.mean >= 0).all()


def test_one_wild_figure_moves_no_mean_of_its_neighbours() -> None:
    """Two items, 60 days; a slip of the pen of 2,000 where 3 or 4 are usual."""
    qty = np.stack([7.0 + np.arange(60) % 3 - 1, 3.0 + np.arange(60) % 2])
    calm = forecast_of(qty)
    qty[1, 20] = 2000.0
    wild = forecast_of(qty)
    assert wild.mean[0] == pytest.approx(calm.mean[0], rel=0.05)
    assert (wild.mean[1] <= wild.quantiles(LEVELS)[1, :, -1]).all()
