"""The clock of the business, and the last day of use of what is received, made or frozen.

Instants are seconds UTC; calendar days are ``date``; the two meet only here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from inventory.engine.kitchen import DATE_MARK_DAYS_AFTER, Instant

MINUTE = 60
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class BusinessClock:
    """Turns business dates and hours of one zone into instants, and back."""

    zone: str

    def instant(self, day: date, at: time) -> Instant:
        """The moment of a wall-clock time. One that a spring night leaves out is taken at the
        next minute that exists; one that comes twice in autumn, the first time (rules R2)."""
        zone = ZoneInfo(self.zone)
        local = datetime.combine(day, at)
        moment = local.replace(tzinfo=zone).astimezone(UTC)
        if moment.astimezone(zone).replace(tzinfo=None) == local:
            return int(moment.timestamp())
        # Read with the offset from before the gap, the time lies past it; the gap ends where
        # the offset changes.
        return _gap_end(local, zone)

    def local(self, instant: Instant) -> datetime:
        """The wall-clock time, without a zone."""
        return datetime.fromtimestamp(instant, ZoneInfo(self.zone)).replace(tzinfo=None)

    def day_of(self, instant: Instant) -> date:
        """The business date of a moment."""
        return self.local(instant).date()

    def text(self, instant: Instant) -> str:
        """``YYYY-MM-DDTHH:MM`` on the wall clock."""
        return f"{self.local(instant):%Y-%m-%dT%H:%M}"


def _gap_end(local: datetime, zone: ZoneInfo) -> Instant:
    before = local.replace(tzinfo=zone, fold=0).utcoffset() or timedelta()
    after = local.replace(tzinfo=zone, fold=1).utcoffset() or timedelta()
    low = int((local - max(before, after)).replace(tzinfo=UTC).timestamp())
    high = int((local - min(before, after)).replace(tzinfo=UTC).timestamp())
    old = datetime.fromtimestamp(low, zone).utcoffset()
    while high - low > 1:
        middle = (low + high) // 2
        if datetime.fromtimestamp(middle, zone).utcoffset() == old:
            low = middle
        else:
            high = middle
    return high


@dataclass(frozen=True, slots=True)
class Freeze:
    """One spell in the freezer; ``thawed`` None: still frozen."""

    frozen: date
    thawed: date | None = None

    @property
    def free_days(self) -> int:
        """Whole days in the freezer: freezing and thawing day both count as refrigerated."""
        if self.thawed is None:
            return 0
        return max(0, (self.thawed - self.frozen).days - 1)


def last_day_by_date_mark(
    day_one: date,
    *,
    freezes: Iterable[Freeze] = (),
    maker_use_by: date | None = None,
    components: Iterable[date] = (),
) -> date:
    """Last day of a refrigerated, ready-to-eat TCS food: seven days, the first one counted.

    FDA Food Code 2022, 3-501.17 and 3-501.18: whole days frozen do not count, a maker's
    safety date caps it, and a mix keeps the mark of its earliest-prepared component. The food
    is usable on that day and discarded from the day after. Local code and the licensed person
    in charge decide.
    """
    frozen_days = sum(freeze.free_days for freeze in freezes)
    own = day_one + timedelta(days=DATE_MARK_DAYS_AFTER + frozen_days)
    return min([own, *components, *([maker_use_by] if maker_use_by else [])])


def marked_days_used(day_one: date, on: date, *, freezes: Iterable[Freeze] = ()) -> int:
    """How many of the seven days are used on ``on``; the clock stands while it is frozen."""
    used = (on - day_one).days + 1
    for freeze in freezes:
        thawed = freeze.thawed or on + DAY
        used -= max(0, (min(thawed, on + DAY) - freeze.frozen).days - 1)
    return used


def use_by_received(received: date, shelf_life_days: int | None) -> date | None:
    """``shelf_life_days`` counts days after: 0 is usable on the day itself only."""
    return None if shelf_life_days is None else received + timedelta(days=shelf_life_days)


def use_by_made(
    made: date, made_life_days: int | None, components: Iterable[date] = ()
) -> date | None:
    """``made_life_days`` as ``kitchen.Item`` gives it: the date-marking limit is in it.
    ``components``: the marks of what went in, where they bind."""
    own = use_by_received(made, made_life_days)
    limits = [*components, *([own] if own else [])]
    return min(limits) if limits else None


def use_by_changed(
    parent_use_by: date | None,
    changed_on: date,
    life_in_new_state: int | None,
    *,
    mark: date | None = None,
    frozen_days: int = 0,
) -> date | None:
    """Use-by of the part of a lot that was opened, thawed, frozen or portioned: the earliest
    of the parent's (whole days frozen added), the day of the change + the life in the new
    state, and the date-marking limit. Nobody lengthens a use-by by hand."""
    limits = [use_by_received(changed_on, life_in_new_state), mark]
    if parent_use_by is not None:
        limits.append(parent_use_by + timedelta(days=frozen_days))
    known = [limit for limit in limits if limit is not None]
    return min(known) if known else None
