"""How far ahead a run must look (R5: to the last day that any rule needs)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.engine.demand.paths import DemandPaths
from inventory.engine.kitchen import Kitchen
from purchasing.engine.ahead import days_in_view
from purchasing.engine.offers import Choice, Pair

# Usage without a stop is sampled this far beyond the last delivery day; goods that live longer
# are judged as if it went on as at the end (own choice: a run stays small with dry goods in it).
DAYS_SAMPLED = timedelta(days=28)


@dataclass(frozen=True, slots=True)
class Horizon:
    """``sampled``: last day of usage without a stop; ``everything``: last day of any stop,
    booking or new lot's use-by."""

    sampled: date
    everything: date

    @classmethod
    def of(
        cls, kitchen: Kitchen, buyable: Mapping[Pair, tuple[Choice, ...]], today: date
    ) -> Horizon:
        slots = {one.slot for choices in buyable.values() for one in choices if one.slot}
        lives = list(_lives(kitchen, buyable))
        longest = max([today, *(day + timedelta(days=life) for day, life in lives)])
        farthest = max([today, *(day + days_weighed(life) for day, life in lives)])
        nearest = max([today, *(slot.delivery + DAYS_SAMPLED for slot in slots)])
        least = max([today, *(slot.next_delivery for slot in slots)])
        events = [stop.day for stop in kitchen.stops] + [one.day for one in kitchen.bookings]
        return cls(max(least, min(nearest, farthest)), max([least, longest, *events]))

    def known_until(self, demand: DemandPaths) -> date | None:
        """Where usage comes from stops and bookings alone all of it is known: None."""
        return self.sampled if demand.direct else None


def days_weighed(life: int) -> timedelta:
    """From D1 to the use-by of the last order that one of today is weighed with (R10)."""
    return days_in_view(life) + timedelta(days=life) if life else timedelta(0)


def _lives(
    kitchen: Kitchen, buyable: Mapping[Pair, tuple[Choice, ...]]
) -> Iterable[tuple[date, int]]:
    """Delivery and shelf life of each new lot; what is undated has none to look at."""
    for (_, item), choices in buyable.items():
        life = kitchen.items[item].shelf_life_days or 0
        yield from ((one.slot.delivery, life) for one in choices if one.slot)
