"""Load-outs of one place, from its load targets and what it holds (R12, steps 2 to 4).

A *service* is one time at which the place serves: a stop that is held, or a day of bookings
on which no stop is planned. Arrays are (S, P): services in order of opening, paths.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

import numpy as np
import numpy.typing as npt

from inventory.engine.dates import DAY, BusinessClock
from inventory.engine.kitchen import TOLERANCE, Instant, Stop
from inventory.engine.shelf import Shelf

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Service:
    """``key`` is the stop's, empty where no stop is planned."""

    key: str
    day: date
    opens: time | None

    def moment(self, clock: BusinessClock) -> Instant:
        """When it is served; without an hour after everything else of the day, as R6 has
        it for draws that have none."""
        if self.opens is None:
            return clock.instant(self.day + DAY, time.min) - 1
        return clock.instant(self.day, self.opens)


def services(stops: Iterable[Stop], booked: Iterable[date], first_day: date) -> tuple[Service, ...]:
    """Services of one place from ``first_day`` on, in order of opening: every stop that is
    held, booked or not (its close throws away what does not keep), and every booked day on
    which no stop is planned. A day whose stops are all cancelled has none."""
    mine = [stop for stop in stops if stop.day >= first_day]
    planned = {stop.day for stop in mine}
    held = [Service(stop.key, stop.day, stop.opens) for stop in mine if not stop.cancelled]
    without_stop = {day for day in booked if day >= first_day and day not in planned}
    found = held + [Service("", day, None) for day in without_stop]
    return tuple(sorted(found, key=lambda one: (one.day, one.opens or time.min, one.key)))


def first_of_day(served: Sequence[Service]) -> dict[date, int]:
    """Index of each day's first service: the one a booking belongs to (R12.1)."""
    first: dict[date, int] = {}
    for index, service in enumerate(served):
        first.setdefault(service.day, index)
    return first


def load_targets(need: Floats, weights: Floats, level: float) -> Floats:
    """Smallest quantity (S,) whose chance of lasting the service is at least ``level``.

    ``need`` (S, P) base units, ``weights`` (P,) sum to 1, 0 < level < 1. The same on every
    path, since it is decided before the turnout is known; with certain demand the need
    itself. Nothing is rounded: no carry unit is stored (R12.2).
    """
    order = np.argsort(need, axis=1, kind="stable")
    chance = np.cumsum(weights[order], axis=1)
    first = np.argmax(chance >= level - 1e-12, axis=1)
    rows = np.arange(len(need))
    return np.asarray(need[rows, order[rows, first]])


def chance_dish_lasts(needs: Floats, targets: Floats, weights: Floats) -> float:
    """Chance that no item of a dish runs out: ``needs`` (I, P), ``targets`` (I,) of its
    items at one stop. Not the product of the items' chances: they move together (R12.2)."""
    lasts = np.all(needs <= targets[:, None] + TOLERANCE, axis=0)
    return float(weights[lasts].sum())


@dataclass(frozen=True, slots=True)
class Aboard:
    """How one item behaves on one place: what is there, whether it outlives a close, the
    days a load is good for after it leaves (None: undated), and what was sent already.

    ``leaves`` and ``serves`` give each service's business date of loading and moment of
    serving; ``sent`` the base units on their way to the services whose load-out has left.
    """

    shelf: Shelf
    keeps: bool
    life_days: int | None
    leaves: Sequence[date]
    serves: Sequence[Instant]
    sent: Mapping[int, float]

    def loads(self, need: Floats, target: Floats, served: Sequence[Service]) -> Floats:
        """What must be loaded (S, P) base units: target less what is usable aboard.

        A load-out already sent replaces the planned one. What a service leaves stays
        aboard where it keeps; where it does not, everything aboard goes at the close.
        """
        planned = np.zeros_like(need)
        for row, service in enumerate(served):
            at = self.serves[row]
            if row in self.sent:
                loaded = np.full(need.shape[1], self.sent[row])
            else:
                loaded = self._short_of(target[row], service.day, at)
                planned[row] = loaded
            self.shelf.add(loaded, self._use_by(row, service.day))
            self.shelf.draw(need[row], service.day, at)
            if not self.keeps:
                self.shelf.discard(at)
        return planned

    def _short_of(self, target: float, day: date, at: Instant) -> Floats:
        missing = target - self.shelf.usable(day, at)
        return np.where(missing > TOLERANCE, missing, 0.0)

    def _use_by(self, row: int, day: date) -> date | None:
        """Which lot will be loaded is not known: it is taken as fresh when it leaves (own
        assumption), and is good on its stop's date in any case."""
        if self.life_days is None:
            return None
        return max(day, self.leaves[row] + timedelta(days=self.life_days))
