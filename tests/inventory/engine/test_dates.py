"""Use-by dates of what is received, made, opened, thawed or frozen; the clock there and back."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.dates import (
    BusinessClock,
    Freeze,
    last_day_by_date_mark,
    use_by_changed,
    use_by_made,
    use_by_received,
)

MARCH_2 = date(2026, 3, 2)


def march(day: int) -> date:
    return date(2026, 3, day)


@pytest.mark.parametrize(
    ("life", "use_by"),
    [(0, MARCH_2), (1, march(3)), (6, march(8)), (30, date(2026, 4, 1)), (None, None)],
)
def test_shelf_life_counts_days_after(life: int | None, use_by: date | None) -> None:
    """rules.md, R6: life 0 is usable on the day itself only."""
    assert use_by_received(MARCH_2, life) == use_by


@pytest.mark.parametrize(
    ("life", "components", "use_by"),
    [
        (3, [], march(5)),
        (6, [march(4), march(9)], march(4)),
        (None, [march(4)], march(4)),
        (None, [], None),
        (0, [march(9)], MARCH_2),
    ],
)
def test_what_is_made_keeps_no_longer_than_what_went_in(
    life: int | None, components: list[date], use_by: date | None
) -> None:
    assert use_by_made(MARCH_2, life, components) == use_by


@pytest.mark.parametrize(
    ("parent", "life", "mark", "frozen", "use_by"),
    [
        (march(20), 3, None, 0, march(5)),  # opened: the shorter life
        (march(4), 9, None, 0, march(4)),  # nobody lengthens a use-by
        (march(20), 9, march(8), 0, march(8)),  # the date mark binds
        (march(4), None, None, 10, march(14)),  # whole days frozen are added
        (None, None, None, 0, None),
        (None, 2, None, 0, march(4)),
    ],
)
def test_a_changed_lot_takes_the_earliest_limit(
    parent: date | None, life: int | None, mark: date | None, frozen: int, use_by: date | None
) -> None:
    assert use_by_changed(parent, MARCH_2, life, mark=mark, frozen_days=frozen) == use_by


@pytest.mark.parametrize(
    ("frozen", "thawed", "free"),
    [(2, 2, 0), (2, 3, 0), (2, 4, 1), (2, 12, 9)],
)
def test_only_whole_days_in_the_freezer_are_free(frozen: int, thawed: int, free: int) -> None:
    assert Freeze(march(frozen), march(thawed)).free_days == free
    assert last_day_by_date_mark(MARCH_2, freezes=[Freeze(march(frozen), march(thawed))]) == (
        march(8) + timedelta(days=free)
    )


ZONES = ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]
clocks = st.sampled_from(ZONES).map(BusinessClock)
# Whole minutes from 2000 to 2050.
minutes = st.integers(946_684_800 // 60, 2_524_608_000 // 60)


@given(clocks, minutes)
def test_a_wall_clock_time_is_an_instant_that_shows_it(clock: BusinessClock, minute: int) -> None:
    """Both readings of a doubled hour show the same time; the first one is taken."""
    local = clock.local(minute * 60)
    instant = clock.instant(local.date(), local.time())
    assert clock.local(instant) == local
    assert instant <= minute * 60


@given(
    clocks, st.datetimes(datetime.fromisoformat("2000-01-01"), datetime.fromisoformat("2050-01-01"))
)
def test_a_time_that_does_not_exist_becomes_the_next_that_does(
    clock: BusinessClock, typed: datetime
) -> None:
    local = typed.replace(second=0, microsecond=0)
    instant = clock.instant(local.date(), local.time())
    shown = clock.local(instant)
    assert shown >= local
    before = datetime.fromtimestamp(instant - 60, ZoneInfo(clock.zone)).replace(tzinfo=None)
    assert shown == local or before < local, "the next minute that exists, not a later one"


def test_midnight_that_a_spring_night_leaves_out_is_one_o_clock() -> None:
    """Cairo's clock went from 00:00 to 01:00 on 2026-04-24 (IANA data through zoneinfo)."""
    clock = BusinessClock("Africa/Cairo")
    assert clock.text(clock.instant(date(2026, 4, 24), time(0, 0))) == "2026-04-24T01:00"
    assert clock.day_of(clock.instant(date(2026, 4, 24), time.min)) == date(2026, 4, 24)
