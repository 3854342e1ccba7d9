"""The picture of a line, worked out by hand and held against the decision it stands beside."""

from __future__ import annotations

import numpy as np
import pytest

from purchasing.engine.lines import Line
from purchasing.engine.picture import DayPicture, line_picture
from tests.purchasing.engine.line_scenes import CERTAIN, daily, decided, draws, line, march


def seen(one: Line, cases: int, last: int = 6, weights: object = CERTAIN) -> list[DayPicture]:
    """From Monday 2 March on."""
    return list(line_picture(one, cases, weights, first=march(2), last=march(last)))  # type: ignore[arg-type]


USE_OF_TEN = dict.fromkeys(range(2, 8), 10)


def test_stock_falls_by_the_use_and_rises_with_the_delivery() -> None:
    """25 there, 10 a day; 3 cases of 10 on the 4th."""
    days = seen(line(daily(USE_OF_TEN), stock=[(25, None)]), 3)
    assert [one.middle for one in days] == [15, 5, 25, 15, 5]
    assert [one.arrives for one in days] == [0, 0, 30, 0, 0]
    assert {one.use for one in days} == {10}
    assert {one.short for one in days} == {0}


def test_certain_demand_has_no_band() -> None:
    days = seen(line(daily(USE_OF_TEN), stock=[(25, None)]), 3)
    assert [(one.low, one.high) for one in days] == [(one.middle, one.middle) for one in days]


def test_what_passes_its_use_by_is_gone_the_next_day() -> None:
    """15 usable until the 3rd: 10 used on the 2nd, 5 on the 3rd leave nothing to spoil; with a
    use of 2 a day 11 spoil on the 3rd."""
    days = seen(line(daily(dict.fromkeys(range(2, 8), 2)), stock=[(15, 3)]), 0)
    assert [one.spoils for one in days] == [0, 11, 0, 0, 0]
    assert [one.middle for one in days] == [13, 0, 0, 0, 0]
    assert [one.short for one in days] == [0, 0, 1, 1, 1]


def test_half_the_paths_short_is_a_chance_of_a_half() -> None:
    """10 there; use 5 or 20 on the 2nd."""
    drawn = draws([(2, None, 2, [5.0, 20.0])], paths=2)
    weights = np.array([0.5, 0.5])
    (day,) = line_picture(
        line(drawn, stock=[(10, None)]), 0, weights, first=march(2), last=march(2)
    )
    assert (day.short, day.low, day.high, day.use) == (0.5, 0, 5, 12.5)


def test_the_band_holds_nine_paths_of_ten() -> None:
    """Use of 1 to 10 on ten paths, 20 there: 10 to 19 are left."""
    drawn = draws([(2, None, 2, np.arange(1.0, 11.0))], paths=10)
    weights = np.full(10, 0.1)
    (day,) = line_picture(
        line(drawn, stock=[(20, None)]), 0, weights, first=march(2), last=march(2)
    )
    assert (day.low, day.middle, day.high) == (10, 14, 18)


@pytest.mark.parametrize("cases", [0, 1, 2, 5])
def test_the_days_agree_with_the_reasons_of_the_line(cases: int) -> None:
    """A day before the next delivery is short where the reasons give a chance to it."""
    one = line(daily(USE_OF_TEN), stock=[(25, None)], between=(4, 7))
    window = [day for day in seen(one, cases) if march(4) <= day.day < march(7)]
    reasons = decided(one).reasons
    short = max(day.short for day in window)
    assert short == (reasons.stockout_chance_without if cases == 0 else float(cases < 3))


def test_a_delivery_of_somebody_else_is_on_the_picture() -> None:
    days = seen(line(daily(USE_OF_TEN), coming=[(3, 40, None)]), 0)
    assert [one.arrives for one in days] == [0, 40, 0, 0, 0]
    assert [one.middle for one in days] == [0, 30, 20, 10, 0]
