"""Which delivery can still be ordered, and what it must carry until (R2, R4)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import Instant, Place
from purchasing.engine.inputs import Supplier

ORDER_DAYS_AHEAD = 60
# Where no second delivery is in sight the first must last this long (R2).
DAYS_ASSUMED = timedelta(days=28)
# A supplier and a place that never meet are given up on after a year and a day.
DELIVERY_DAYS_AHEAD = 366
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Slot:
    """``order_by``: the first cutoff that is still open; ``delivery`` D1 and
    ``next_delivery`` D2; ``last_order_by``: the latest cutoff that still gives D1.
    ``assumed_next``: no later delivery was found, D2 is D1 + 28 days. ``later``: the first
    cutoff of each later delivery of the 60 days, D2 the first of them."""

    order_by: Instant
    delivery: date
    next_delivery: date
    last_order_by: Instant
    assumed_next: bool = False
    later: tuple[tuple[Instant, date], ...] = ()


def next_slot(
    supplier: Supplier, place: Place, *, clock: BusinessClock, as_of: Instant
) -> Slot | None:
    """The first slot that can still be ordered at ``as_of``; None: no delivery in 60 days."""
    slots = list(_open_slots(supplier, place, clock, as_of))
    if not slots:
        return None
    order_by, delivery = slots[0]
    later = _first_cutoffs(slots, delivery)
    return Slot(
        order_by=order_by,
        delivery=delivery,
        next_delivery=later[0][1] if later else delivery + DAYS_ASSUMED,
        last_order_by=max(cutoff for cutoff, arrival in slots if arrival == delivery),
        assumed_next=not later,
        later=later,
    )


def _first_cutoffs(
    slots: Iterable[tuple[Instant, date]], after: date
) -> tuple[tuple[Instant, date], ...]:
    """Cutoff and delivery of each delivery later than ``after``, in order."""
    first: dict[date, Instant] = {}
    for cutoff, delivery in slots:
        if delivery > max([after, *first]):
            first[delivery] = cutoff
    return tuple((cutoff, delivery) for delivery, cutoff in first.items())


def _open_slots(
    supplier: Supplier, place: Place, clock: BusinessClock, as_of: Instant
) -> Iterator[tuple[Instant, date]]:
    """Cutoff and delivery of every order day of the next 60 whose cutoff is not past."""
    today = clock.day_of(as_of)
    for day in (today + timedelta(days=ahead) for ahead in range(ORDER_DAYS_AHEAD)):
        if day.weekday() not in supplier.order_days or day in supplier.closed_on:
            continue
        cutoff = clock.instant(day, supplier.cutoff)
        delivery = first_delivery_from(day + timedelta(days=supplier.lead_days), supplier, place)
        if cutoff >= as_of and delivery is not None:
            yield cutoff, delivery


def first_delivery_from(day: date, supplier: Supplier, place: Place) -> date | None:
    """The first date on or after ``day`` on which the supplier delivers and the place
    receives. That is also when an overdue order is taken to arrive, seen from T (R4)."""
    ahead = (day + n * ONE_DAY for n in range(DELIVERY_DAYS_AHEAD))
    return next((each for each in ahead if _meet(each, supplier, place)), None)


def _meet(day: date, supplier: Supplier, place: Place) -> bool:
    delivers = day.weekday() in supplier.delivery_days and day not in supplier.closed_on
    return delivers and place.receives_on(day)
