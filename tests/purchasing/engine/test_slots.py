"""Slots (R2), with the check cases of the rules (S) and of the working calendars (CA)."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import EVERY_DAY, Place
from purchasing.engine.inputs import Supplier
from purchasing.engine.slots import Slot, first_delivery_from, next_slot

CLOCK = BusinessClock("America/New_York")
KITCHEN = Place("COM", "commissary")
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def day(text: str) -> date:
    return date.fromisoformat(text if len(text) > 5 else f"2026-{text}")


def at(text: str, clock: BusinessClock = CLOCK) -> int:
    moment = datetime.fromisoformat(text if len(text) > 14 else f"2026-{text}")
    return clock.instant(moment.date(), moment.time())


def weekdays(words: str) -> frozenset[int]:
    return EVERY_DAY if words == "every" else frozenset(WEEK.index(w) for w in words.split())


def supplier(
    orders: str, cutoff: str, lead: int, deliveries: str, closed: tuple[str, ...] = ()
) -> Supplier:
    return Supplier(
        code="S1",
        order_days=weekdays(orders),
        cutoff=time.fromisoformat(cutoff),
        lead_days=lead,
        delivery_days=weekdays(deliveries),
        closed_on=frozenset(day(text) for text in closed),
    )


def slot_of(who: Supplier, as_of: str, place: Place = KITCHEN) -> Slot:
    found = next_slot(who, place, clock=CLOCK, as_of=at(as_of))
    assert found is not None
    return found


def said(slot: Slot) -> tuple[str, str, str]:
    order_by = CLOCK.text(slot.order_by).replace("T", " ")
    return order_by[5:], f"{slot.delivery}"[5:], f"{slot.next_delivery}"[5:]


# rules.md, "Check cases"; 2026-03-02 is a Monday.
CHECK_CASES = {
    "S1": (supplier("mon thu", "14:00", 2, "wed fri"), "03-02 14:00",
           ("03-02 14:00", "03-04", "03-11")),
    "S2": (supplier("mon thu", "14:00", 2, "wed fri"), "03-02 14:01",
           ("03-05 14:00", "03-11", "03-18")),
    "S3": (supplier("mon tue wed", "14:00", 1, "fri"), "03-02 06:00",
           ("03-02 14:00", "03-06", "03-13")),
    "S4": (supplier("mon thu", "14:00", 1, "tue fri", ("03-03",)), "03-02 06:00",
           ("03-02 14:00", "03-06", "03-10")),
    "S5": (supplier("mon thu", "14:00", 1, "tue fri", ("03-02",)), "03-02 06:00",
           ("03-05 14:00", "03-06", "03-10")),
    "S6": (supplier("every", "10:00", 0, "every"), "03-02 06:00",
           ("03-02 10:00", "03-02", "03-03")),
    "S7": (supplier("fri", "12:00", 3, "mon tue", ("03-08",)), "03-06 06:00",
           ("03-06 12:00", "03-09", "03-16")),
    "S8": (supplier("mon", "05:30", 1, "tue"), "03-02 06:00",
           ("03-09 05:30", "03-10", "03-17")),
}  # fmt: skip


@pytest.mark.parametrize(("who", "as_of", "expected"), CHECK_CASES.values(), ids=list(CHECK_CASES))
def test_slot_of_the_check_cases(who: Supplier, as_of: str, expected: tuple[str, str, str]) -> None:
    assert said(slot_of(who, as_of)) == expected


def test_s3_can_be_ordered_until_the_last_cutoff_that_gives_the_same_delivery() -> None:
    who, as_of, _ = CHECK_CASES["S3"]
    assert CLOCK.text(slot_of(who, as_of).last_order_by) == "2026-03-04T14:00"


def test_s2_counts_the_day_in_between_as_the_same_delivery() -> None:
    who, as_of, _ = CHECK_CASES["S2"]
    assert CLOCK.text(slot_of(who, as_of).last_order_by) == "2026-03-09T14:00"


# inventory-theory.md, section 10 (common practice, no source): order by, D1; next order by, D2.
MWF = ("mon wed fri", "14:00")
CA_01 = supplier(*MWF, 2, "mon wed fri")
CALENDARS = {
    "CA-01": (CA_01, "03-02 06:00", ("03-02 14:00", "03-04", "03-06")),
    "CA-02 at 14:00:00": (CA_01, "2026-03-02 14:00:00", ("03-02 14:00", "03-04", "03-06")),
    "CA-02 at 14:00:01": (CA_01, "2026-03-02 14:00:01", ("03-04 14:00", "03-06", "03-09")),
    "CA-03": (supplier(*MWF, 1, "mon wed fri"), "03-06 10:00", ("03-06 14:00", "03-09", "03-11")),
    "CA-04": (supplier(*MWF, 2, "mon wed fri", ("03-04",)), "03-02 06:00",
              ("03-02 14:00", "03-06", "03-09")),
    "CA-05": (supplier(*MWF, 2, "mon wed fri", ("03-02",)), "03-02 06:00",
              ("03-04 14:00", "03-06", "03-09")),
    "CA-06": (supplier("mon tue wed thu fri", "16:00", 1, "tue fri"), "03-02 06:00",
              ("03-02 16:00", "03-03", "03-06")),
    "CA-07": (supplier("mon tue wed thu fri", "12:00", 1, "mon tue wed thu fri sat",
                       ("2026-12-25", "2026-12-26", "2027-01-01")), "12-23 09:00",
              ("12-23 12:00", "12-24", "12-28")),
    "CA-08": (supplier("wed", "11:00", 3, "tue"), "03-04 09:00",
              ("03-04 11:00", "03-10", "03-17")),
    "CA-09": (supplier("every", "22:00", 0, "every"), "03-02 06:00",
              ("03-02 22:00", "03-02", "03-03")),
    "CA-10": (supplier("mon tue", "14:00", 2, "thu"), "03-02 06:00",
              ("03-02 14:00", "03-05", "03-12")),
    "CA-11 (leap year)": (supplier("mon", "10:00", 2, "wed thu"), "2028-02-28 06:00",
                          ("02-28 10:00", "03-01", "03-08")),
}  # fmt: skip


@pytest.mark.parametrize(("who", "as_of", "expected"), CALENDARS.values(), ids=list(CALENDARS))
def test_slot_of_the_working_calendars(
    who: Supplier, as_of: str, expected: tuple[str, str, str]
) -> None:
    assert said(slot_of(who, as_of)) == expected


def test_ca_10_next_order_is_the_first_that_gives_a_later_delivery() -> None:
    who = supplier("mon tue", "14:00", 2, "thu")
    assert CLOCK.text(slot_of(who, "03-02 06:00").last_order_by) == "2026-03-03T14:00"
    assert said(slot_of(who, "03-03 14:01"))[0] == "03-09 14:00"


def test_later_deliveries_come_with_the_first_cutoff_that_gives_them() -> None:
    """Check case S3: Monday, Tuesday and Wednesday all give Friday."""
    slot = slot_of(supplier("mon tue wed", "14:00", 1, "fri"), "03-02T06:00")
    told = [(CLOCK.text(cutoff)[5:10], str(on)[5:]) for cutoff, on in slot.later[:2]]
    assert told == [("03-09", "03-13"), ("03-16", "03-20")]
    assert len(slot.later) == 8  # order days of 60 days


def test_without_a_second_delivery_nothing_is_known_of_later() -> None:
    closed = tuple(str(day("03-03") + timedelta(days=n)) for n in range(60))
    slot = slot_of(supplier("mon", "14:00", 0, "mon", closed), "03-02T06:00")
    assert (slot.assumed_next, slot.later) == (True, ())


def test_ca_12_closed_for_good_has_no_slot() -> None:
    years = (date(2026, 3, 2) + timedelta(days=n) for n in range(800))
    closed = supplier("every", "10:00", 0, "every", tuple(each.isoformat() for each in years))
    assert next_slot(closed, KITCHEN, clock=CLOCK, as_of=at("03-02 06:00")) is None


def test_no_delivery_when_the_place_never_receives_on_a_delivery_day() -> None:
    mondays_only = Place("COM", "commissary", receives=frozenset({0}))
    who = supplier("every", "10:00", 1, "tue")
    assert next_slot(who, mondays_only, clock=CLOCK, as_of=at("03-02 06:00")) is None


def test_an_order_day_on_the_sixtieth_day_counts_and_on_the_next_does_not() -> None:
    first_59 = tuple((date(2026, 3, 2) + timedelta(days=n)).isoformat() for n in range(59))
    who = supplier("every", "10:00", 0, "every", first_59)
    assert slot_of(who, "03-02 06:00").delivery == date(2026, 3, 2) + timedelta(days=59)
    closed_longer = supplier("every", "10:00", 0, "every", (*first_59, "2026-04-30"))
    assert next_slot(closed_longer, KITCHEN, clock=CLOCK, as_of=at("03-02 06:00")) is None


def test_without_a_second_delivery_the_next_is_assumed_28_days_on() -> None:
    after = tuple((date(2026, 3, 3) + timedelta(days=n)).isoformat() for n in range(70))
    slot = slot_of(supplier("every", "10:00", 0, "every", after), "03-02 06:00")
    assert slot.assumed_next is True
    assert slot.next_delivery == date(2026, 3, 30)


def test_the_place_must_receive_on_the_delivery_day() -> None:
    closed_wednesday = Place(
        "COM", "commissary", receives=weekdays("wed fri"), closed_on=frozenset({day("03-04")})
    )
    slot = slot_of(CHECK_CASES["S1"][0], "03-02 06:00", closed_wednesday)
    assert said(slot) == ("03-02 14:00", "03-06", "03-11")


def test_the_hour_of_arrival_plays_no_part_in_lead_days() -> None:
    slot = slot_of(supplier("every", "23:45", 0, "every"), "03-02 23:45")
    assert slot.delivery == day("03-02")


# inventory-theory.md, TZ-01 and TZ-05 (IANA rules): the cutoff keeps its local time.
CUTOFFS_IN_UTC = [
    ("America/New_York", "2026-03-07", 19),
    ("America/New_York", "2026-03-08", 18),
    ("America/New_York", "2026-10-31", 18),
    ("America/New_York", "2026-11-01", 19),
    ("Europe/London", "2026-03-28", 14),
    ("Europe/London", "2026-03-29", 13),
    ("Europe/London", "2026-10-25", 14),
]


@pytest.mark.parametrize(("zone", "on", "utc_hour"), CUTOFFS_IN_UTC)
def test_a_cutoff_keeps_its_local_time_across_clock_changes(
    zone: str, on: str, utc_hour: int
) -> None:
    clock = BusinessClock(zone)
    who = supplier("every", "14:00", 0, "every")
    slot = next_slot(who, KITCHEN, clock=clock, as_of=clock.instant(day(on), time(6)))
    assert slot is not None
    assert slot.order_by % 86_400 == utc_hour * 3600


@pytest.mark.parametrize(
    ("on", "cutoff", "utc"),
    [
        ("2026-03-08", "02:30", "07:00"),  # TZ-02: does not exist, taken at 03:00 local
        ("2026-11-01", "01:30", "05:30"),  # TZ-03: comes twice, the first
    ],
    ids=["TZ-02", "TZ-03"],
)
def test_a_cutoff_on_a_night_of_clock_change(on: str, cutoff: str, utc: str) -> None:
    slot = slot_of(supplier("every", cutoff, 0, "every"), f"{on} 00:15")
    hours, minutes = utc.split(":")
    assert slot.order_by % 86_400 == int(hours) * 3600 + int(minutes) * 60
    assert slot.delivery == day(on)


def test_an_overdue_order_arrives_on_the_first_day_both_can() -> None:
    who = supplier("mon", "10:00", 3, "wed fri", ("2026-03-04",))
    assert first_delivery_from(day("03-02"), who, KITCHEN) == day("03-06")
    assert first_delivery_from(day("03-06"), who, KITCHEN) == day("03-06")


some_weekdays = st.frozensets(st.integers(0, 6), min_size=1)
suppliers = st.builds(
    Supplier,
    code=st.just("S1"),
    order_days=some_weekdays,
    cutoff=st.times().map(lambda t: t.replace(second=0, microsecond=0, tzinfo=None)),
    lead_days=st.integers(0, 5),
    delivery_days=some_weekdays,
    closed_on=st.frozensets(st.dates(date(2026, 3, 1), date(2026, 3, 31)), max_size=5),
)
moments = st.integers(at("03-01 00:00"), at("03-20 00:00"))


@given(suppliers, moments, st.integers(0, 5 * 86_400))
def test_a_later_as_of_never_gives_an_earlier_slot(who: Supplier, as_of: int, later: int) -> None:
    now = next_slot(who, KITCHEN, clock=CLOCK, as_of=as_of)
    then = next_slot(who, KITCHEN, clock=CLOCK, as_of=as_of + later)
    assert now is not None and then is not None
    assert now.order_by <= then.order_by and now.delivery <= then.delivery


@given(suppliers, moments)
def test_deliveries_lie_on_delivery_days_outside_closures(who: Supplier, as_of: int) -> None:
    slot = next_slot(who, KITCHEN, clock=CLOCK, as_of=as_of)
    assert slot is not None
    assert as_of <= slot.order_by <= slot.last_order_by
    assert slot.delivery < slot.next_delivery
    for each in (slot.delivery, slot.next_delivery):
        assert each.weekday() in who.delivery_days and each not in who.closed_on
