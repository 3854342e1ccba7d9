"""The day as a ruler."""

from __future__ import annotations

from datetime import datetime, time

from purchasing.web.frame import Ruler, ruler

FIVE, EIGHT = time(5), time(20)


def at(hour: int, minute: int = 0, day: int = 4) -> datetime:
    return datetime(2026, 3, day, hour, minute)  # noqa: DTZ001  a wall clock


def seven(*moments: datetime) -> Ruler:
    return ruler(at(7, 51), FIVE, EIGHT, list(moments))


def test_the_ruler_runs_from_the_first_start_to_the_last_return() -> None:
    ticks = seven().ticks
    assert len(ticks) == 16
    assert (ticks[0].x, ticks[-1].x) == ("2.00", "98.00")
    assert [tick.word for tick in ticks if tick.word] == ["6", "9", "12", "15", "18"]


def test_deadlines_of_today_are_on_it_and_others_are_not() -> None:
    assert seven(at(14), at(14, day=5)).marks == ("59.60",)


def test_now_stands_where_it_is_and_nowhere_before_the_day() -> None:
    assert seven().now == "20.24"
    assert ruler(at(3), FIVE, EIGHT, []).now is None


def test_a_last_return_past_the_hour_gets_the_whole_hour() -> None:
    assert len(ruler(at(7), FIVE, time(22, 30), []).ticks) == 19


def test_the_ruler_can_be_heard() -> None:
    assert seven(at(14)).words == "The day from 5 to 20; now 07:51; orders due 14:00."
    assert seven().words.endswith("orders due none.")
