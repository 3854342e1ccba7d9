"""Clock changes, inventory-theory.md section 10 (IANA rules through zoneinfo)."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from inventory.engine.dates import BusinessClock

NEW_YORK = BusinessClock("America/New_York")
LONDON = BusinessClock("Europe/London")


def zulu(clock: BusinessClock, day: str, at: str) -> str:
    instant = clock.instant(date.fromisoformat(day), time.fromisoformat(at))
    return f"{datetime.fromtimestamp(instant, UTC):%H:%MZ}"


@pytest.mark.parametrize(
    ("clock", "day", "utc"),
    [
        pytest.param(NEW_YORK, "2026-03-07", "19:00Z", id="TZ-01 before spring"),
        pytest.param(NEW_YORK, "2026-03-08", "18:00Z", id="TZ-01 in spring"),
        pytest.param(NEW_YORK, "2026-10-31", "18:00Z", id="TZ-01 before autumn"),
        pytest.param(NEW_YORK, "2026-11-01", "19:00Z", id="TZ-01 in autumn"),
        pytest.param(LONDON, "2026-03-28", "14:00Z", id="TZ-05 before spring"),
        pytest.param(LONDON, "2026-03-29", "13:00Z", id="TZ-05 in spring"),
        pytest.param(LONDON, "2026-10-25", "14:00Z", id="TZ-05 in autumn"),
    ],
)
def test_a_cutoff_of_14_00_is_a_local_hour(clock: BusinessClock, day: str, utc: str) -> None:
    assert zulu(clock, day, "14:00") == utc


def test_tz_02_an_hour_that_does_not_exist_is_the_next_that_does() -> None:
    instant = NEW_YORK.instant(date(2026, 3, 8), time(2, 30))
    assert NEW_YORK.text(instant) == "2026-03-08T03:00"


def test_tz_03_an_hour_that_comes_twice_is_the_first() -> None:
    assert zulu(NEW_YORK, "2026-11-01", "01:30") == "05:30Z"
    assert NEW_YORK.text(NEW_YORK.instant(date(2026, 11, 1), time(1, 30)) + 3600) == (
        "2026-11-01T01:30"
    )


@pytest.mark.parametrize(
    ("day", "ready"),
    [
        pytest.param("2026-03-07", "2026-03-08T07:00", id="TZ-04 spring"),
        pytest.param("2026-10-31", "2026-11-01T05:00", id="TZ-04 autumn"),
    ],
)
def test_hands_off_hours_are_elapsed_hours(day: str, ready: str) -> None:
    """Eight hours from 22:00."""
    begun = NEW_YORK.instant(date.fromisoformat(day), time(22))
    assert NEW_YORK.text(begun + 8 * 3600) == ready


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        pytest.param(date(2026, 3, 8), 23, id="TZ-04 the short day"),
        pytest.param(date(2026, 11, 1), 25, id="TZ-04 the long day"),
    ],
)
def test_a_day_has_as_many_hours_as_its_clock(day: date, hours: int) -> None:
    start, end = (NEW_YORK.instant(one, time.min) for one in (day, day + timedelta(days=1)))
    assert (end - start) / 3600 == hours
    assert NEW_YORK.day_of(start) == NEW_YORK.day_of(end - 1) == day
