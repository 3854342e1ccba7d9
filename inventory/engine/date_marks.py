"""Date marks of refrigerated, ready-to-eat food: how much of the seven days is used, what is
left, and what has to be discarded.

FDA Food Code 2022, 3-501.17 and 3-501.18. Local code and the licensed person in charge decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from inventory.engine.dates import Freeze, last_day_by_date_mark, marked_days_used
from inventory.engine.kitchen import DATE_MARK_DAYS_AFTER

SPAN = DATE_MARK_DAYS_AFTER + 1
# Held no longer than this it needs no mark.
UNMARKED = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Mark:
    """``last_day`` is None while it is frozen: the clock stands and no date is due."""

    day_one: date
    used: int
    last_day: date | None

    @property
    def left(self) -> int:
        return max(0, SPAN - self.used)

    @property
    def is_over(self) -> bool:
        return self.used > SPAN


def mark(
    day_one: date,
    on: date,
    *,
    freezes: Sequence[Freeze] = (),
    maker_use_by: date | None = None,
    components: Iterable[date] = (),
) -> Mark:
    """The mark as it stands on ``on`` of what was made, or opened, on ``day_one``."""
    used = marked_days_used(day_one, on, freezes=freezes)
    if any(freeze.thawed is None for freeze in freezes):
        return Mark(day_one, used, None)
    last_day = last_day_by_date_mark(
        day_one, freezes=freezes, maker_use_by=maker_use_by, components=components
    )
    return Mark(day_one, used, last_day)


class Verdict(StrEnum):
    KEEP = "keep"
    CLOCK_STANDS = "clock_stands"  # frozen
    SPAN_OVER = "span_over"
    NO_MARK = "no_mark"
    MARKED_TOO_LATE = "marked_too_late"

    @property
    def is_discard(self) -> bool:
        return self in (Verdict.SPAN_OVER, Verdict.NO_MARK, Verdict.MARKED_TOO_LATE)


def judge(marked: date | None, true: Mark | None, on: date) -> Verdict:
    """``marked``: the date that stands on it; ``true``: its mark by the rules, None where
    nobody knows its first day. 3-501.18(A)(1) to (3)."""
    if true is None:
        return Verdict.NO_MARK
    if true.is_over or (true.last_day is not None and on > true.last_day):
        return Verdict.SPAN_OVER
    if true.last_day is None:
        return Verdict.CLOCK_STANDS
    if marked is None:
        return Verdict.NO_MARK
    return Verdict.MARKED_TOO_LATE if marked > true.last_day else Verdict.KEEP


def needs_mark(made: datetime, gone: datetime | None) -> bool:
    """Whether food made then and used up at ``gone`` (None: still there) must carry a mark."""
    return gone is None or gone - made > UNMARKED


@dataclass(frozen=True, slots=True)
class Stage:
    """One lot on the way from what came to what is there now, as it was from ``since`` on."""

    since: date
    frozen: bool = False
    opened: bool = False


def first_marked_day(stages: Sequence[Stage], made_here: bool) -> date | None:
    """Day one of the seven: of what was made here the day of making, of what was bought the
    day on which it was opened; None while it is closed."""
    if made_here and stages:
        return stages[0].since
    return next((stage.since for stage in stages if stage.opened), None)


def freezes(stages: Sequence[Stage]) -> tuple[Freeze, ...]:
    """Spells in the freezer. Frozen parts of frozen lots are one spell."""
    found: list[Freeze] = []
    began: date | None = None
    for stage in stages:
        if stage.frozen:
            began = began or stage.since
        elif began is not None:
            found.append(Freeze(began, stage.since))
            began = None
    return (*found, Freeze(began)) if began is not None else tuple(found)
