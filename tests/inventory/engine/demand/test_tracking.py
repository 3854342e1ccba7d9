from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inventory.engine.demand.tracking import REFERENCE, Snapshot, track
from tests.inventory.engine.demand.tables import WEEK_SHAPE, one_outlet

STEADY = np.full((2, 140), 20.0)


def last(qty: np.ndarray, **more: object) -> Snapshot:
    series = one_outlet(qty, **more)  # type: ignore[arg-type]
    return track(series, [series.days], 7).snapshots[-1]


def test_every_level_of_a_steady_series_is_its_mean() -> None:
    assert last(STEADY).levels == pytest.approx(np.full((6, 2), 20.0))


def test_factors_follow_the_weekday() -> None:
    note = last(np.tile(20.0 * WEEK_SHAPE, (2, 30)))
    expected = note.levels[REFERENCE][:, None] * note.factors
    assert expected == pytest.approx(np.tile(20.0 * WEEK_SHAPE, (2, 1)), rel=0.06)


def test_a_snapshot_does_not_see_its_own_day_or_later() -> None:
    changed = STEADY.copy()
    changed[:, 100:] = 500.0
    one, other = (track(one_outlet(qty), [100], 7).snapshots[0] for qty in (STEADY, changed))
    assert np.array_equal(one.levels, other.levels)
    assert np.array_equal(one.factors, other.factors)


def test_missing_days_leave_everything_as_it_was() -> None:
    holes = STEADY.copy()
    holes[:, 50:80] = np.nan
    assert last(holes).levels == pytest.approx(last(STEADY).levels)


def test_short_half_lives_move_first() -> None:
    risen = STEADY.copy()
    risen[:, 130:] = 40.0
    levels = last(risen).levels[:, 0]
    assert (np.diff(levels) < 0).all()


def test_one_odd_day_hardly_moves_a_level() -> None:
    odd = STEADY.copy()
    odd[:, 138] = 0.0
    assert last(odd).levels[REFERENCE] == pytest.approx([20.0, 20.0], rel=0.02)


def test_a_weekday_seen_once_is_pulled_to_the_outlet() -> None:
    qty = np.tile(20.0 * WEEK_SHAPE, (3, 20))
    qty[2, :-7] = np.nan
    factors = last(qty).factors
    assert factors[2, 5] == pytest.approx(factors[0, 5], rel=0.2)


def test_sold_out_days_are_lifted_and_others_are_not() -> None:
    rng = np.random.default_rng(2)
    series = one_outlet(rng.poisson(20.0, (2, 100)))
    short = np.zeros(series.qty.shape, dtype=bool)
    short[:, 50] = True
    lifted = track(replace(series, sold_out=short), [100], 7).lifted
    assert (lifted[:, 50] > series.qty[:, 50]).all()
    assert np.array_equal(lifted[~short], series.qty[~short])


def test_a_long_run_of_zeros_says_that_an_item_is_gone() -> None:
    gone = STEADY.copy()
    gone[0, 120:] = 0.0
    selling = last(gone).selling
    assert selling[0] < 0.1
    assert selling[1] == 1.0
