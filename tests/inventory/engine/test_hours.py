"""Working hours: latest starts, thawing, when a load-out leaves (rules R12, steps 3 and 6)."""

from __future__ import annotations

import pytest

from inventory.engine.hours import WorkHours
from inventory.engine.kitchen import Item
from tests.inventory.engine.small_kitchens import at, day, hour, hours_of, place, said

FROZEN = Item("PEAS", "ingredient", "g", stored_frozen=True, thaw_hours=24)


def commissary(
    opens: str | None = "06:00",
    closes: str | None = "18:00",
    *,
    closed: tuple[str, ...] = (),
    loads: str | None = None,
    as_of: str = "03-02 06:00",
) -> WorkHours:
    where = place("COM", "commissary", hours=(opens, closes), closed=closed, loads=loads)
    return hours_of(where, as_of)


def started(hours: WorkHours, limit: str, minutes: int) -> str | None:
    start = hours.latest_start(at(limit), minutes)
    return None if start is None else said(start)


@pytest.mark.parametrize(
    ("limit", "minutes", "expected"),
    [
        pytest.param("03-05 10:00", 60, "03-05 09:00", id="inside the hours of the day"),
        pytest.param("03-05 07:00", 60, "03-05 06:00", id="starts as the place opens"),
        pytest.param("03-05 06:59", 60, "03-04 17:00", id="does not fit before, so the day before"),
        pytest.param("03-05 03:00", 60, "03-04 17:00", id="ready in the night"),
        pytest.param("03-05 22:00", 60, "03-05 17:00", id="ready after closing"),
        pytest.param("03-05 18:00", 0, "03-05 18:00", id="takes no time"),
        pytest.param("03-02 07:00", 60, "03-02 06:00", id="starts at as_of exactly, so not late"),
        pytest.param("03-02 06:30", 60, None, id="should have started before as_of"),
        pytest.param("02-20 10:00", 60, None, id="needed long ago"),
    ],
)
def test_work_lies_whole_inside_the_hours_of_one_day_as_late_as_it_can(
    limit: str, minutes: int, expected: str | None
) -> None:
    assert started(commissary(), limit, minutes) == expected


def test_closing_days_are_passed_over() -> None:
    assert started(commissary(closed=("03-04", "03-05")), "03-05 10:00", 60) == "03-03 17:00"


@pytest.mark.parametrize(
    ("opens", "closes", "limit", "minutes", "expected"),
    [
        pytest.param(None, None, "03-05 00:30", 60, "03-04 23:00", id="no batch over midnight"),
        pytest.param(None, None, "03-05 00:00", 60, "03-04 23:00", id="up to midnight"),
        pytest.param(None, "02:00", "03-05 09:00", 60, "03-05 01:00", id="opens blank"),
        pytest.param("20:00", None, "03-05 09:00", 60, "03-04 23:00", id="closes blank"),
        pytest.param("20:00", "04:00", "03-05 09:00", 60, "03-05 03:00", id="over midnight"),
        pytest.param("06:00", "00:00", "03-05 05:00", 60, "03-04 23:00", id="until midnight"),
    ],
)
def test_blank_hours_are_the_whole_day(
    opens: str | None, closes: str | None, limit: str, minutes: int, expected: str
) -> None:
    assert started(commissary(opens, closes), limit, minutes) == expected


def test_what_takes_no_time_is_done_as_the_last_open_day_ends() -> None:
    shut = commissary(None, None, closed=("03-05",))
    assert started(shut, "03-05 12:00", 0) == "03-05 00:00"


@pytest.mark.parametrize(
    ("limit", "hours", "expected"),
    [
        pytest.param("03-08 12:00", 11, "03-08 00:00", id="spring: noon is 11 hours on"),
        pytest.param("11-01 12:00", 13, "11-01 00:00", id="autumn: noon is 13 hours on"),
    ],
)
def test_minutes_are_elapsed_when_the_clocks_change(limit: str, hours: int, expected: str) -> None:
    # America/New_York: forward on 2026-03-08, back on 2026-11-01 (inventory-theory TZ-04).
    assert started(commissary(None, None), limit, hours * 60) == expected


# --- Thawing ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moment", "expected"),
    [
        pytest.param("03-05 07:00", "03-04 07:00", id="24 elapsed hours before"),
        pytest.param("03-05 05:00", "03-03 18:00", id="earlier into working hours: before opening"),
        pytest.param("03-05 20:00", "03-04 18:00", id="earlier into working hours: after closing"),
        pytest.param("03-03 05:00", "03-02 06:00", id="not before as_of"),
    ],
)
def test_what_is_stored_frozen_is_drawn_its_thawing_hours_before(
    moment: str, expected: str
) -> None:
    assert said(commissary().pulled(at(moment), FROZEN)) == expected


def test_thawing_hours_are_elapsed_hours_over_the_spring_night() -> None:
    hours = commissary(None, None)
    assert said(hours.pulled(at("03-08 12:00"), FROZEN)) == "03-07 11:00"


@pytest.mark.parametrize(
    "item",
    [
        pytest.param(Item("A", "ingredient", "g", thaw_hours=24), id="not stored frozen"),
        pytest.param(Item("A", "ingredient", "g", stored_frozen=True), id="no thawing hours"),
    ],
)
def test_other_goods_are_drawn_when_they_are_needed(item: Item) -> None:
    assert commissary().pulled(at("03-05 05:00"), item) == at("03-05 05:00")


# --- When a load-out leaves ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("truck_loads", "commissary_loads", "opens", "expected"),
    [
        pytest.param("07:00", "08:00", "11:00", "03-05 07:00", id="the truck's load time"),
        pytest.param(None, "08:00", "11:00", "03-05 08:00", id="else the commissary's"),
        pytest.param(None, None, "11:00", "03-05 11:00", id="else when the stop opens"),
        pytest.param(None, None, None, "03-05 00:00", id="else midnight"),
        pytest.param(
            "19:30", None, "11:00", "03-04 19:30", id="later than the opening: day before"
        ),
        pytest.param("11:00", None, "11:00", "03-05 11:00", id="at the opening: that day"),
        pytest.param("19:30", None, None, "03-05 19:30", id="no opening to be later than"),
    ],
)
def test_load_time_is_the_trucks_else_the_commissarys_else_the_opening(
    truck_loads: str | None, commissary_loads: str | None, opens: str | None, expected: str
) -> None:
    leaves = commissary(loads=commissary_loads).load_leaves(
        place("A", loads=truck_loads), day("03-05"), hour(opens)
    )
    assert said(leaves) == expected


@pytest.mark.parametrize(
    ("closes", "loads", "closed", "expected"),
    [
        pytest.param("18:00", "07:00", ("03-05",), "03-04 18:00", id="at closes of the day before"),
        pytest.param(
            "18:00", "07:00", ("03-05", "03-04"), "03-03 18:00", id="of the last open day"
        ),
        pytest.param(None, "07:00", ("03-05",), "03-04 07:00", id="blank closes: at the load time"),
        pytest.param("18:00", "19:30", ("03-04",), "03-03 18:00", id="an evening load too"),
        pytest.param("18:00", "19:30", ("03-05",), "03-04 19:30", id="shut after it left"),
    ],
)
def test_a_shut_commissary_loads_on_the_last_open_day_before(
    closes: str | None, loads: str, closed: tuple[str, ...], expected: str
) -> None:
    hours = commissary("06:00", closes, closed=closed)
    assert said(hours.load_leaves(place("A", loads=loads), day("03-05"), hour("11:00"))) == expected


@pytest.mark.parametrize("closed", [(), ("03-02",), ("02-28", "03-01", "03-02")])
def test_a_load_out_that_should_have_left_leaves_at_as_of(closed: tuple[str, ...]) -> None:
    hours = commissary(closed=closed, as_of="03-02 10:00")
    leaves = hours.load_leaves(place("A", loads="07:00"), day("03-02"), hour("11:00"))
    assert said(leaves) == "03-02 10:00"
