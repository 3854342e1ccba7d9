from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from inventory.engine.demand.panel import Panel, build_panel
from tests.inventory.engine.demand.scenes import T, usage


def panel(rows: pd.DataFrame, closed: dict[str, frozenset[date]] | None = None) -> Panel:
    return build_panel(rows, until=T, longest=400, closed=closed or {})


def back(days: int) -> date:
    return T - timedelta(days=days)


def test_rows_of_one_day_add_up_and_the_last_column_is_yesterday() -> None:
    found = panel(usage([("COM", "LEEK", back(1), 3.0), ("COM", "LEEK", back(1), 4.0)]))
    assert found.qty.tolist() == [[7.0]]
    assert found.last_day == back(1)


def test_weekdays_belong_to_their_columns() -> None:
    found = panel(usage([("COM", "LEEK", back(8), 1.0)]))
    assert found.weekdays.tolist() == [back(days).weekday() for days in range(8, 0, -1)]


def test_a_day_without_a_row_is_zero_where_that_is_no_surprise() -> None:
    found = panel(usage([("COM", "LEEK", back(days), 5.0) for days in range(1, 60, 3)]))
    assert (found.qty == 0).sum() > 30


def test_a_day_without_any_row_is_missing_where_that_would_be_a_wonder() -> None:
    days = [day for day in range(1, 100) if day != 30]
    found = panel(usage([("COM", item, back(d), 5.0) for item in "ABC" for d in days]))
    assert np.isnan(found.qty[:, -30]).all()
    assert np.isfinite(found.qty).sum() == 3 * 98


def test_a_marked_closing_day_is_missing() -> None:
    rows = usage([("COM", "LEEK", back(days), 5.0) for days in range(1, 60, 3)])
    assert np.isnan(panel(rows, {"COM": frozenset({back(2)})}).qty[0, -2])


def test_a_series_begins_with_its_first_row() -> None:
    rows = [("COM", "LEEK", back(days), 5.0) for days in range(1, 20)]
    found = panel(usage([*rows, ("COM", "PEAS", back(3), 2.0)]))
    assert np.isfinite(found.qty[1]).sum() == 3


def test_a_weekday_without_rows_for_weeks_is_a_closing_day() -> None:
    days = [day for day in range(1, 80) if back(day).weekday() != 6]
    found = panel(usage([("COM", "LEEK", back(day), 5.0) for day in days]))
    week = [T + timedelta(days=ahead) for ahead in range(7)]
    assert found.open_weekdays(week)[0].tolist() == [True] * 6 + [False]


def test_rows_from_today_on_and_older_than_asked_are_left_out() -> None:
    rows = usage([("COM", "LEEK", T, 1.0), ("COM", "LEEK", back(500), 1.0)])
    assert panel(rows).keys == ()


def test_two_weeks_tell_the_closing_day_of_a_place_busy_on_all_others() -> None:
    days = [day for day in range(1, 16) if back(day).weekday() != 6]
    busy = panel(usage([("COM", "LEEK", back(day), 5.0) for day in days]))
    rare = panel(usage([("COM", "LEEK", back(day), 5.0) for day in (1, 8, 15)]))
    week = [T + timedelta(days=ahead) for ahead in range(7)]
    assert busy.open_weekdays(week)[0].tolist() == [True] * 6 + [False]
    assert rare.open_weekdays(week)[0].all()
