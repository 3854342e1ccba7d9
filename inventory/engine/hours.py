"""Working hours of a place: the latest moments at which something can be done there (R12).

Work lies whole inside the hours of one open day, as late as it can; hands-off time and
thawing are elapsed hours, whatever the clock on the wall does. Moments are whole seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time

from inventory.engine.dates import DAY, MINUTE, BusinessClock
from inventory.engine.kitchen import Instant, Item, Place

HOUR = 3600


@dataclass(frozen=True, slots=True)
class WorkHours:
    """The hours of one place as seen at ``as_of``: nothing can be started before it."""

    place: Place
    clock: BusinessClock
    as_of: Instant

    def window(self, day: date) -> tuple[Instant, Instant]:
        """First and last moment of work on ``day``; blank hours are the whole day, and
        hours that close at or before they open run into the next day."""
        opens = self.place.opens or time.min
        closes = self.place.closes or time.min
        last_day = day if closes > opens else day + DAY
        return self.clock.instant(day, opens), self.clock.instant(last_day, closes)

    def latest_start(self, limit: Instant, minutes: int) -> Instant | None:
        """Latest start of work of ``minutes`` that ends not later than ``limit``, whole
        inside the hours of one open day. None: it should have started before ``as_of``.

        What takes no time can be done as the place closes: where hours are blank that is
        midnight, which by its date is the next day, open or not.
        """
        for day in self._open_days_back(self.clock.day_of(limit)):
            opens, closes = self.window(day)
            start = min(limit, closes) - minutes * MINUTE
            if start >= opens:
                return start if start >= self.as_of else None
        return None

    def pulled(self, moment: Instant, item: Item) -> Instant:
        """When ``item`` must leave storage to be of use at ``moment``: what is stored
        frozen is drawn its thawing hours earlier, within working hours (R12.6)."""
        if not (item.stored_frozen and item.thaw_hours):
            return moment
        limit = moment - round(item.thaw_hours * HOUR)
        start = self.latest_start(limit, 0)
        return self.as_of if start is None else start

    def load_leaves(self, truck: Place, day: date, opens: time | None) -> Instant:
        """When the load-out for a stop on ``day`` leaves this place (R12.3)."""
        at = _first_given(truck.load_time, self.place.load_time, opens) or time.min
        leaves_on = day - DAY if opens is not None and at > opens else day
        last_open = next(self._open_days_back(leaves_on), None)
        if last_open is None:
            return self.as_of
        if last_open < leaves_on and self.place.closes is not None:
            return max(self.as_of, self.window(last_open)[1])
        return max(self.as_of, self.clock.instant(last_open, at))

    def opening(self, day: date) -> Instant | None:
        """When the place opens on ``day``, closed or not, not before ``as_of``; None if no
        hour is known."""
        if self.place.opens is None:
            return None
        return max(self.as_of, self.clock.instant(day, self.place.opens))

    def _open_days_back(self, day: date) -> Iterator[date]:
        """Open days from ``day`` back to the eve of T (hours may run past midnight)."""
        first = self.clock.day_of(self.as_of) - DAY
        while day >= first:
            if self.place.is_open(day):
                yield day
            day -= DAY


def _first_given(*times: time | None) -> time | None:
    return next((at for at in times if at is not None), None)
