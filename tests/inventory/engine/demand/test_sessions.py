from __future__ import annotations

from datetime import time, timedelta

import numpy as np
import pandas as pd

from inventory.engine.demand.sessions import (
    counter_sales,
    daypart,
    past_sessions,
    stop_sales,
)
from tests.inventory.engine.demand.scenes import T, kitchen, sales, stop

DAY = T - timedelta(days=6)
ROWS = sales(
    [
        ("VAN1", "Quay", DAY, "SOUP", 40.0, False),
        ("VAN1", "Quay", DAY, "STEW", 20.0, True),
        ("VAN1", "Quay", DAY, "COLA", 30.0, False),
        ("REST", "", DAY, "SOUP", 25.0, False),
    ]
)


def test_a_service_counts_dishes_as_guests_and_knows_what_ran_out() -> None:
    place = kitchen(stops=(stop(DAY, covers=70.0, event="fair"),))
    found = past_sessions(stop_sales(ROWS, place, T), place, T)
    assert found.guests.tolist() == [60.0]
    assert found.sold_out.tolist() == [True]
    assert found.typed.tolist() == [70.0]
    assert found.event.tolist() == ["fair"]


def test_two_services_of_one_day_are_told_apart_by_hour() -> None:
    evening = ROWS.assign(opens="18:00")
    place = kitchen(stops=(stop(DAY, site="Quay"), stop(DAY, site="Fair", opens=time(18))))
    found = past_sessions(stop_sales(pd.concat([ROWS, evening]), place, T), place, T)
    assert found.daypart.tolist() == ["lunch", "evening"]


def test_a_row_without_a_site_takes_that_of_the_only_stop() -> None:
    place = kitchen(stops=(stop(DAY),))
    found = past_sessions(stop_sales(ROWS.assign(site="", opens=""), place, T), place, T)
    assert found.site.tolist() == ["Quay"]


def test_a_restaurant_sells_over_the_counter_though_trucks_have_stops() -> None:
    place = kitchen(stops=(stop(DAY),))
    assert counter_sales(ROWS, place, T)["location"].tolist() == ["REST"]


def test_a_restaurant_that_caters_sells_at_the_stop_on_that_day_only() -> None:
    place = kitchen(stops=(stop(DAY, location="REST"),))
    other = ROWS.assign(day=pd.Timestamp(DAY - timedelta(days=1)), opens="")
    rows = pd.concat([ROWS, other])
    counter = counter_sales(rows[rows["location"] == "REST"], place, T)
    assert counter["day"].tolist() == [pd.Timestamp(DAY - timedelta(days=1))]


def test_without_any_stop_known_everything_is_sold_over_the_counter() -> None:
    assert len(counter_sales(ROWS, kitchen(), T)) == len(ROWS)


def test_blank_hours_are_lunch() -> None:
    assert [daypart(hour) for hour in ("", "11:30", "16:00", "19:00")] == [
        "lunch",
        "lunch",
        "evening",
        "evening",
    ]


def test_columns_without_any_value_are_blank() -> None:
    bare = ROWS.assign(site=np.nan, opens=np.nan, sold_out=np.nan)
    place = kitchen(stops=(stop(DAY),))
    found = past_sessions(stop_sales(bare, place, T), place, T)
    assert found.site.tolist() == ["Quay"]
    assert found.sold_out.tolist() == [False]
