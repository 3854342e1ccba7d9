"""What one delivery must carry: from its arrival to the arrival of the next (R9)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import numpy.typing as npt

from inventory.engine.dates import BusinessClock
from inventory.engine.draws import NO_HOUR, Draws
from inventory.engine.kitchen import Instant
from inventory.engine.projection import arrival_hour
from purchasing.engine.inputs import Supplier
from purchasing.engine.slots import Slot

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Window:
    """``start`` D1 and ``end`` D2 with the hours of arrival in seconds UTC (NO_HOUR: before
    the day's first draw). A draw without an hour comes after all arrivals of its day."""

    start: date
    end: date
    start_hour: Instant = NO_HOUR
    end_hour: Instant = NO_HOUR

    @classmethod
    def of(cls, slot: Slot, supplier: Supplier, *, clock: BusinessClock, as_of: Instant) -> Window:
        hours = [
            arrival_hour(each, supplier.arrives, clock=clock, as_of=as_of)
            for each in (slot.delivery, slot.next_delivery)
        ]
        return cls(slot.delivery, slot.next_delivery, *hours)

    def until(self, next_one: Window) -> Window:
        """The same delivery, to be carried until ``next_one`` arrives."""
        return replace(self, end=next_one.start, end_hour=next_one.start_hour)

    def is_before(self, draws: Draws) -> Bools:
        """(J,) draws that this delivery comes too late for."""
        return _before_arrival(draws, self.start, self.start_hour)

    def holds(self, draws: Draws) -> Bools:
        """(J,) draws after the arrival of D1 and before that of D2."""
        before_end = _before_arrival(draws, self.end, self.end_hour)
        return np.asarray(before_end & ~self.is_before(draws))


def _before_arrival(draws: Draws, day: date, hour: Instant) -> Bools:
    ordinal = day.toordinal()
    same_day = (draws.day == ordinal) & draws.timed & (draws.moment < hour)
    return np.asarray((draws.day < ordinal) | same_day)
