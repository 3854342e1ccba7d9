"""Published limits in, findings with a caution out: receiving, cooling, time marks.

Limits are those of the FDA Food Code 2022 in both scales. A reading is judged in the unit it
was taken in, because the Code's Celsius figures are rounded (57 C is 134.6 F). The Code is a
model: local code and the licensed person in charge decide, and every finding says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum

DECIDES = "Local code and the licensed person in charge decide."

SHELLSTOCK_TAG_DAYS = 90  # 3-203.12, from the day the last of the container was served
COOL_AFTER_RECEIPT = timedelta(hours=4)  # 3-501.14(C)
STAGE_ONE = timedelta(hours=2)  # 3-501.14(A)(1)
STAGES_TOGETHER = timedelta(hours=6)  # 3-501.14(A)(2)
FROM_ROOM = timedelta(hours=4)  # 3-501.14(B)


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature as it was read: ``unit`` F or C."""

    degrees: Decimal
    unit: str

    def __str__(self) -> str:
        return f"{self.degrees.normalize():f} °{self.unit}"


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit in both scales, as published."""

    f: Decimal
    c: Decimal

    def like(self, reading: Reading) -> Reading:
        """The limit in the unit of ``reading``."""
        return Reading(self.f if reading.unit == "F" else self.c, reading.unit)

    def is_below(self, reading: Reading) -> bool:
        return reading.degrees > self.like(reading).degrees

    def is_above(self, reading: Reading) -> bool:
        return reading.degrees < self.like(reading).degrees


COLD = Limit(Decimal(41), Decimal(5))  # 3-202.11(A), 3-501.16(A)(2)
EGGS_AIR = Limit(Decimal(45), Decimal(7))  # 3-202.11(C): air of the equipment
OTHER_LAW = Limit(Decimal(45), Decimal(7))  # 3-202.11(B): such as milk and molluscs
HOT = Limit(Decimal(135), Decimal(57))  # 3-202.11(D), 3-501.16(A)(1)
ROOM = Limit(Decimal(70), Decimal(21))  # 3-501.14(A)(1), 3-501.19
# Chilled food colder than this is frozen, or read in the other unit (own choice, common
# practice, no source).
FROZEN_THROUGH = Limit(Decimal(25), Decimal(-4))


class Verdict(StrEnum):
    DUTY = "duty"  # accepted, with something to do
    MANAGER = "manager"  # only on a manager's word
    REJECT = "reject"  # on nobody's word


@dataclass(frozen=True, slots=True)
class Finding:
    """``message`` says what was found and what the published limit is; ``due``: until when a
    duty is to be done."""

    code: str
    verdict: Verdict
    message: str
    due: datetime | None = None

    @property
    def caution(self) -> str:
        return f"{self.message} {DECIDES}"


class Judged(StrEnum):
    """As what an arriving food is judged (3-202.11)."""

    PLAIN = "plain"  # not time/temperature controlled: nothing to judge
    COLD = "cold"
    EGGS = "eggs"  # raw shell eggs: the air of the truck
    OTHER_LAW = "other_law"  # another law allows more, such as for milk and molluscs
    HOT = "hot"
    FROZEN = "frozen"


@dataclass(frozen=True, slots=True)
class Arrival:
    """One food at the dock. ``thawed``: labelled frozen, and not frozen when it came."""

    name: str
    judged: Judged
    reading: Reading | None
    at: datetime
    thawed: bool = False


def received(arrival: Arrival) -> Finding | None:
    """What speaks against taking this in; None: nothing (3-202.11)."""
    if arrival.judged is Judged.FROZEN:
        return _thawed(arrival) if arrival.thawed else None
    if arrival.reading is None or arrival.judged is Judged.PLAIN:
        return None
    reading = arrival.reading
    if arrival.judged is not Judged.HOT and FROZEN_THROUGH.is_above(reading):
        return _too_cold(arrival, reading)
    match arrival.judged:
        case Judged.COLD:
            return _over(arrival, reading, COLD, "is received") if COLD.is_below(reading) else None
        case Judged.EGGS:
            over = EGGS_AIR.is_below(reading)
            return _over(arrival, reading, EGGS_AIR, "travel in air") if over else None
        case Judged.HOT:
            return _too_cool(arrival, reading) if HOT.is_above(reading) else None
        case _:
            return _by_other_law(arrival, reading)


def _thawed(arrival: Arrival) -> Finding:
    return Finding(
        "arrived_thawed",
        Verdict.REJECT,
        f"{arrival.name} is sold frozen and came thawed. Reject it, whatever its temperature "
        "(Food Code 3-202.11(E)).",
    )


def _over(arrival: Arrival, reading: Reading, limit: Limit, how: str) -> Finding:
    return Finding(
        "too_warm",
        Verdict.MANAGER,
        f"{arrival.name}: {reading}. Such food {how} at {limit.like(reading)} or below "
        "(Food Code 3-202.11). Reject it, or have a manager accept it and say why.",
    )


def _too_cool(arrival: Arrival, reading: Reading) -> Finding:
    return Finding(
        "too_cool",
        Verdict.MANAGER,
        f"{arrival.name}: {reading}. Hot food is received at {HOT.like(reading)} or above "
        "(Food Code 3-202.11(D)). Reject it, or have a manager accept it and say why.",
    )


def _too_cold(arrival: Arrival, reading: Reading) -> Finding:
    """7 read in Celsius is warm food, and looks safe where the unit was left on Fahrenheit."""
    other = "if the thermometer reads °C, choose °C; " if reading.unit == "F" else ""
    return Finding(
        "too_cold",
        Verdict.MANAGER,
        f"{arrival.name} is sold chilled, and {reading} is frozen: {other or 'read it again; '}"
        "otherwise reject it, or have a manager accept it and say why.",
    )


def _by_other_law(arrival: Arrival, reading: Reading) -> Finding | None:
    if OTHER_LAW.is_below(reading):
        return _over(arrival, reading, OTHER_LAW, "is received")
    if not COLD.is_below(reading):
        return None
    due = arrival.at + COOL_AFTER_RECEIPT
    return Finding(
        "cool_down",
        Verdict.DUTY,
        f"{arrival.name} came at {reading}: bring it to {COLD.like(reading)} or below within 4 "
        "hours (Food Code 3-501.14(C)).",
        due,
    )


# Cooling (3-501.14)


@dataclass(frozen=True, slots=True)
class Cooling:
    """``failed_at``: the deadline that was missed; ``next_due`` and ``next_limit``: what must be
    reached next, both None when it is done."""

    failed_at: datetime | None
    next_due: datetime | None
    next_limit: Limit | None

    @property
    def is_done(self) -> bool:
        return self.failed_at is None and self.next_due is None

    @property
    def finding(self) -> Finding | None:
        if self.failed_at is None:
            return None
        return Finding(
            "cooled_too_slowly",
            Verdict.REJECT,
            f"It was not cool enough at {self.failed_at:%H:%M}. Reheat it to 165 °F (74 °C) for "
            "15 s and cool it again, or discard it (Food Code 3-501.14, 3-403.11).",
        )


def cooling(
    started: datetime,
    readings: Sequence[tuple[datetime, Reading]],
    *,
    at: datetime,
    from_room: bool = False,
) -> Cooling:
    """How the cooling of a cooked food stands at ``at``; ``started``: when it was at 135 F.

    135 to 70 F within 2 h and to 41 F within 6 h in all, so time saved in the first stage
    carries over; ``from_room``: made from ingredients at room temperature, 41 F within 4 h.
    A deadline is met by a reading taken no later than it.
    """
    stages = [(STAGE_ONE, ROOM), (STAGES_TOGETHER, COLD)]
    for allowed, limit in [(FROM_ROOM, COLD)] if from_room else stages:
        due = started + allowed
        if any(when <= due and not limit.is_below(reading) for when, reading in readings):
            continue
        if at >= due:
            return Cooling(due, None, None)
        return Cooling(None, due, limit)
    return Cooling(None, None, None)


# Time as a control (3-501.19)


@dataclass(frozen=True, slots=True)
class TimeMark:
    """``until``: the last moment of use, to be written on it; ``discard_from``: the moment from
    which it is discarded (None: not yet). ``finding``: why it may not be held so at all."""

    until: datetime | None
    discard_from: datetime | None = None
    finding: Finding | None = None

    def is_usable(self, at: datetime) -> bool:
        if self.until is None or at > self.until:
            return False
        return self.discard_from is None or at < self.discard_from


def time_mark(
    out_at: datetime,
    start: Reading,
    *,
    hours: int,
    cut_or_opened: bool = False,
    readings: Sequence[tuple[datetime, Reading]] = (),
    marked: bool = True,
) -> TimeMark:
    """Food held by the clock instead of by temperature, out since ``out_at``.

    4 hours from 41 F or below or 135 F or above; cut produce and opened hermetic food may start
    at up to 70 F and never be warmer; 6 hours only from 41 F, and never above 70 F. Without a
    mark on the container it is discarded at once.
    """
    if finding := _may_not_be_timed(start, hours, cut_or_opened):
        return TimeMark(None, out_at, finding)
    if not marked:
        return TimeMark(None, out_at, _unmarked())
    watched = hours == 6 or (cut_or_opened and COLD.is_below(start))
    warm = [when for when, reading in readings if watched and ROOM.is_below(reading)]
    return TimeMark(out_at + timedelta(hours=hours), min(warm, default=None))


def _may_not_be_timed(start: Reading, hours: int, cut_or_opened: bool) -> Finding | None:
    cold = not COLD.is_below(start)
    if hours == 6:
        fits = cold
    else:
        fits = cold or not HOT.is_above(start) or (cut_or_opened and not ROOM.is_below(start))
    if fits:
        return None
    return Finding(
        "may_not_be_timed",
        Verdict.REJECT,
        f"It starts at {start}, from which food may not be held for {hours} hours by time alone "
        "(Food Code 3-501.19).",
    )


def _unmarked() -> Finding:
    return Finding(
        "no_time_mark",
        Verdict.REJECT,
        "No time is marked on the container: discard it (Food Code 3-501.19(B)).",
    )


def tag_kept_until(last_served: date) -> date:
    """The last day on which a shellstock tag is still kept (3-203.12)."""
    return last_served + timedelta(days=SHELLSTOCK_TAG_DAYS)
