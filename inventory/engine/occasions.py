"""What guests want at one place, occasion by occasion (R12, step 1)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from inventory.engine.draws import NO_HOUR
from inventory.engine.hours import WorkHours
from inventory.engine.kitchen import Booking, Instant, Kitchen, Place
from inventory.engine.loadout import Service, first_of_day, services
from inventory.problems import Problem

if TYPE_CHECKING:
    from inventory.engine.demand.paths import DemandPaths

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Occasion:
    """``qty`` (P,) base units of ``item`` wanted at ``moment`` (NO_HOUR: some time) of
    ``day``, at the place's service number ``service``."""

    item: str
    qty: Floats
    day: date
    moment: Instant
    service: int


@dataclass(frozen=True, slots=True)
class PlaceDemand:
    """``not_ready``: bookings that count as nothing, since every stop of their day is
    cancelled."""

    services: tuple[Service, ...]
    occasions: tuple[Occasion, ...]
    not_ready: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class _Direct:
    item: str
    day: date
    qty: Floats


Portions = dict[str, list[tuple[str, Floats]]]


def portions_by_stop(demand: DemandPaths) -> Portions:
    """Items and portions (P,) of each stop, by its key."""
    found: Portions = defaultdict(list)
    for (key, item), portions in sorted(demand.stops.items(), key=lambda pair: pair[0]):
        found[key].append((item, portions))
    return dict(found)


def place_demand(
    kitchen: Kitchen, demand: DemandPaths, portions: Portions, hours: WorkHours
) -> PlaceDemand:
    """Stops, bookings and direct usage of the place of ``hours`` from T on.

    Bookings at a truck belong to the day's first stop that is held and are needed when it
    opens. Elsewhere they are needed when the place opens. Direct usage has no hour.
    """
    place = hours.place
    bookings = _bookings_at(place.code, kitchen, demand.first_day)
    direct = list(_direct_at(place.code, demand))
    stops = [stop for stop in kitchen.stops if stop.location == place.code]
    if place.kind != "truck":
        stops = [stop for stop in stops if not stop.cancelled]
    booked = {one.day for one in bookings} | {one.day for one in direct}
    served = services(stops, booked, demand.first_day)
    first = first_of_day(served)
    occasions = (
        *_at_stops(served, portions, hours),
        *_booked(bookings, served, first, demand, hours),
        *(
            Occasion(one.item, one.qty, one.day, NO_HOUR, first[one.day])
            for one in direct
            if one.day in first
        ),
    )
    missed = tuple(_without_stop(one) for one in bookings if one.day not in first)
    return PlaceDemand(served, occasions, missed)


def _bookings_at(place: str, kitchen: Kitchen, first_day: date) -> list[Booking]:
    mine = [one for one in kitchen.bookings if one.location == place and one.day >= first_day]
    return sorted(mine, key=lambda one: (one.day, one.item, one.qty))


def _direct_at(place: str, demand: DemandPaths) -> Iterator[_Direct]:
    for (location, item), by_day in sorted(demand.direct.items(), key=lambda pair: pair[0]):
        if location != place:
            continue
        for row in np.flatnonzero(by_day.any(axis=1)):
            yield _Direct(item, demand.first_day + timedelta(days=int(row)), by_day[row])


def _at_stops(
    served: tuple[Service, ...], portions: Portions, hours: WorkHours
) -> Iterator[Occasion]:
    for index, service in enumerate(served):
        for item, qty in portions.get(service.key, ()):
            yield Occasion(item, qty, service.day, _opening(service, hours), index)


def _booked(
    bookings: list[Booking],
    served: tuple[Service, ...],
    first: dict[date, int],
    demand: DemandPaths,
    hours: WorkHours,
) -> Iterator[Occasion]:
    for one in bookings:
        if one.day not in first:
            continue
        index = first[one.day]
        moment = _booking_moment(hours.place, served[index], hours)
        qty = np.full(len(demand.weights), one.qty)
        yield Occasion(one.item, qty, one.day, moment, index)


def _booking_moment(place: Place, service: Service, hours: WorkHours) -> Instant:
    if place.kind == "truck":
        return _opening(service, hours)
    opens = hours.opening(service.day)
    return NO_HOUR if opens is None else opens


def _opening(service: Service, hours: WorkHours) -> Instant:
    """When a service opens, not before ``as_of``: what is due on T and still to be drawn is
    drawn from now on."""
    if service.opens is None:
        return NO_HOUR
    return max(hours.as_of, hours.clock.instant(service.day, service.opens))


def _without_stop(booking: Booking) -> Problem:
    return Problem(
        "booking_without_stop",
        f"{booking.qty:g} {booking.item} are booked at {booking.location} on {booking.day}, but"
        " every stop of that day is cancelled, so nothing is planned for them. Put the stop"
        " back, or cancel the booking.",
        field="bookings",
        data={"location": booking.location, "day": booking.day, "item": booking.item},
    )
