from __future__ import annotations

import numpy as np

from inventory.engine.demand.series import units
from tests.inventory.engine.demand.tables import START, one_outlet


def test_whole_numbers_are_counts_in_their_own_unit() -> None:
    unit, counts = units(np.array([[3.0, 0.0, np.nan, 12.0]]))
    assert (unit.tolist(), counts.tolist()) == ([1.0], [True])


def test_quantities_are_measured_by_their_usual_day() -> None:
    unit, counts = units(np.array([[500.5, 0.0, 1500.5]]))
    assert (unit.tolist(), counts.tolist()) == ([1000.5 / 50.0], [False])


def test_huge_whole_numbers_are_quantities() -> None:
    assert units(np.array([[12_000.0, 8_000.0]]))[1].tolist() == [False]


def test_nothing_used_has_a_unit_all_the_same() -> None:
    assert units(np.zeros((1, 3)))[0].tolist() == [1.0]


def test_horizon_and_weekdays_follow_from_the_calendar() -> None:
    series = one_outlet(np.zeros((1, 10)), ahead=5)
    assert (series.days, series.horizon) == (10, 5)
    assert [series.weekday(column) for column in (0, 6, 7)] == [START.weekday(), 6, 0]
