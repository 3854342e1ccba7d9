"""Receiving, cooling and time marks against the FDA Food Code 2022 as adopted by states
(reference/food-standards.md, section 1.1; the source of each limit stands there)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.engine.safety import (
    COLD,
    DECIDES,
    HOT,
    Arrival,
    Finding,
    Judged,
    Reading,
    Verdict,
    cooling,
    received,
    tag_kept_until,
    time_mark,
)

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)


def at(hour: int, minute: int = 0) -> datetime:
    return NOON.replace(hour=hour, minute=minute)


def f(degrees: str) -> Reading:
    return Reading(Decimal(degrees), "F")


def c(degrees: str) -> Reading:
    return Reading(Decimal(degrees), "C")


def took_in(judged: Judged, reading: Reading | None, *, thawed: bool = False) -> Finding | None:
    return received(Arrival("Beef", judged, reading, NOON, thawed))


def needs_a_manager(finding: Finding | None) -> bool:
    return finding is not None and finding.verdict is Verdict.MANAGER


def test_rc_01_beef_at_41_f_is_accepted() -> None:
    """3-202.11(A), Virginia 12VAC5-421-340."""
    assert took_in(Judged.COLD, f("41.0")) is None


def test_rc_02_beef_at_41_1_f_is_flagged() -> None:
    """3-202.11(A): no tolerance band."""
    finding = took_in(Judged.COLD, f("41.1"))
    assert needs_a_manager(finding)
    assert finding and "41.1 °F" in finding.message and "41 °F or below" in finding.message
    assert finding.caution.endswith(DECIDES)


def test_rc_03_shell_eggs_in_air_of_45_f_are_accepted() -> None:
    """3-202.11(C)."""
    assert took_in(Judged.EGGS, f("45")) is None


def test_rc_04_shell_eggs_in_air_of_46_f_are_flagged() -> None:
    assert needs_a_manager(took_in(Judged.EGGS, f("46")))


def test_rc_05_hot_soup_at_134_f_is_flagged_at_135_f_accepted() -> None:
    """3-202.11(D)."""
    assert needs_a_manager(took_in(Judged.HOT, f("134")))
    assert took_in(Judged.HOT, f("135")) is None


def test_rc_06_a_reading_is_judged_in_its_own_unit() -> None:
    """57.0 C passes; converted it would be 134.6 F and fail."""
    assert not HOT.is_above(c("57.0"))
    assert took_in(Judged.HOT, c("57.0")) is None


@pytest.mark.parametrize("reading", [None, f("10"), f("33"), f("41")])
def test_rc_07_frozen_that_came_thawed_is_a_reject_whatever_its_temperature(
    reading: Reading | None,
) -> None:
    """3-202.11(E)."""
    finding = took_in(Judged.FROZEN, reading, thawed=True)
    assert finding is not None and finding.verdict is Verdict.REJECT


def test_frozen_that_came_frozen_is_accepted() -> None:
    assert took_in(Judged.FROZEN, None) is None


def test_rc_08_milk_at_44_f_is_accepted_with_a_duty() -> None:
    """3-202.11(B), 3-501.14(C)."""
    finding = took_in(Judged.OTHER_LAW, f("44"))
    assert finding is not None and finding.verdict is Verdict.DUTY
    assert finding.due == NOON + timedelta(hours=4)


def test_milk_within_the_usual_limit_has_no_duty_above_the_other_law_a_manager() -> None:
    assert took_in(Judged.OTHER_LAW, f("41")) is None
    assert needs_a_manager(took_in(Judged.OTHER_LAW, f("45.1")))


@pytest.mark.parametrize("judged", [Judged.COLD, Judged.EGGS, Judged.OTHER_LAW])
@pytest.mark.parametrize("reading", [f("7"), f("-40"), f("24.9"), c("-4.1"), c("-40")])
def test_chilled_food_far_below_freezing_is_flagged(judged: Judged, reading: Reading) -> None:
    """Own choice: 25 F and -4 C, each in the unit that was read."""
    finding = took_in(judged, reading)
    assert needs_a_manager(finding)
    assert finding and f"{reading} is frozen" in finding.message


def test_a_fahrenheit_reading_of_7_says_that_it_may_be_celsius() -> None:
    finding = took_in(Judged.COLD, f("7"))
    assert finding and "7 °F is frozen: if the thermometer reads °C, choose °C" in finding.message
    assert needs_a_manager(took_in(Judged.COLD, c("7")))


@pytest.mark.parametrize("reading", [f("25"), f("28"), c("-4"), c("0")])
def test_food_on_ice_is_accepted(reading: Reading) -> None:
    assert took_in(Judged.COLD, reading) is None


@pytest.mark.parametrize("judged", [Judged.FROZEN, Judged.PLAIN])
def test_what_is_sold_frozen_may_be_as_cold_as_it_likes(judged: Judged) -> None:
    assert took_in(judged, f("-5")) is None


def test_food_that_needs_no_cold_is_not_judged() -> None:
    assert took_in(Judged.PLAIN, f("80")) is None


def test_celsius_limits_are_those_published() -> None:
    assert needs_a_manager(took_in(Judged.COLD, c("5.1")))
    assert took_in(Judged.COLD, c("5.0")) is None


def test_cl_01_on_time_in_both_stages() -> None:
    """3-501.14(A)."""
    state = cooling(at(14), [(at(16), f("70")), (at(20), f("41"))], at=at(20))
    assert state.is_done and state.finding is None


def test_cl_02_one_degree_over_after_two_hours_fails() -> None:
    state = cooling(at(14), [(at(16), f("71"))], at=at(16))
    assert state.failed_at == at(16)
    assert state.finding and "Reheat" in state.finding.message


def test_cl_03_time_saved_carries_over() -> None:
    state = cooling(at(14), [(at(15), f("70")), (at(19, 50), f("41"))], at=at(19, 50))
    assert state.is_done


def test_cl_04_six_hours_in_all() -> None:
    state = cooling(at(14), [(at(15, 30), f("70")), (at(20, 10), f("41"))], at=at(20, 10))
    assert state.failed_at == at(20)


def test_cl_05_from_room_temperature_four_hours() -> None:
    """3-501.14(B)."""
    state = cooling(at(10), [(at(14, 5), f("41"))], at=at(14, 5), from_room=True)
    assert state.failed_at == at(14)


def test_cooling_says_what_is_due_next() -> None:
    state = cooling(at(14), [(at(15), f("70"))], at=at(15))
    assert (state.next_due, state.next_limit) == (at(20), COLD)


def test_tp_01_four_hours_from_cold() -> None:
    """3-501.19(B)."""
    mark = time_mark(at(11), f("41"), hours=4)
    assert mark.until == at(15)
    assert mark.is_usable(at(15)) and not mark.is_usable(at(15, 1))


def test_tp_02_without_a_mark_it_is_discarded_now() -> None:
    mark = time_mark(at(11), f("41"), hours=4, marked=False)
    assert mark.discard_from == at(11) and not mark.is_usable(at(11))
    assert mark.finding and mark.finding.code == "no_time_mark"


def test_tp_03_six_hours_end_when_it_is_above_70_f() -> None:
    """3-501.19(C)."""
    mark = time_mark(at(11), f("41"), hours=6, readings=[(at(13, 30), f("71"))])
    assert (mark.until, mark.discard_from) == (at(17), at(13, 30))
    assert mark.is_usable(at(13)) and not mark.is_usable(at(13, 30))


def test_tp_04_hot_food_has_four_hours_only() -> None:
    assert time_mark(at(11), f("140"), hours=4).until == at(15)
    assert time_mark(at(11), f("140"), hours=6).finding is not None


def test_tp_05_tomatoes_cut_at_room_temperature() -> None:
    """3-501.19(B)(2)."""
    mark = time_mark(at(10), f("68"), hours=4, cut_or_opened=True, readings=[(at(12), f("70"))])
    assert (mark.until, mark.discard_from) == (at(14), None)
    assert time_mark(at(10), f("71"), hours=4, cut_or_opened=True).finding is not None
    assert time_mark(at(10), f("68"), hours=4).finding is not None


def test_sh_01_a_shellstock_tag_is_kept_ninety_days() -> None:
    """3-203.12."""
    assert tag_kept_until(date(2026, 3, 2)) == date(2026, 5, 31)
