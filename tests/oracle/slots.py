"""R2: the slot that can still be ordered, and the one after it, day by day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from tests.oracle.book import Book
from tests.oracle.clock import DAY, Moment
from tests.oracle.readings import Otherwise
from tests.oracle.records import Place, Supplier

DAYS_LOOKED_AHEAD = 60
DAYS_ASSUMED = 28


@dataclass(frozen=True, slots=True)
class Slot:
    order_by: Moment
    delivery: date
    next_delivery: date
    last_order_by: Moment
    next_is_assumed: bool


def find_slot(book: Book, supplier: Supplier, place: Place, as_of: Moment) -> Slot | None:
    chances = list(_chances(book, supplier, place, as_of))
    if not chances:
        return None
    order_by, delivery = chances[0]
    later = [arrival for _, arrival in chances if arrival > delivery]
    last = max(cutoff for cutoff, arrival in chances if arrival == delivery)
    next_delivery = later[0] if later else delivery + DAYS_ASSUMED * DAY
    return Slot(order_by, delivery, next_delivery, last, not later)


def _chances(
    book: Book, supplier: Supplier, place: Place, as_of: Moment
) -> Iterator[tuple[Moment, date]]:
    today = book.clock.day_of(as_of)
    for ahead in range(DAYS_LOOKED_AHEAD):
        day = today + ahead * DAY
        if day.weekday() not in supplier.order_days or day in supplier.shut_on:
            continue
        cutoff = book.clock.at(day, supplier.cutoff)
        if cutoff < as_of or (cutoff == as_of and book.reads(Otherwise.CUTOFF_EQUAL_CLOSED)):
            continue
        delivery = first_delivery(book, supplier, place, _earliest(book, supplier, day))
        if delivery is not None:
            yield cutoff, delivery


def _earliest(book: Book, supplier: Supplier, day: date) -> date:
    if not book.reads(Otherwise.LEAD_IN_WORKING_DAYS):
        return day + supplier.lead * DAY
    left = supplier.lead
    while left:
        day += DAY
        left -= day.weekday() < 5 and day not in supplier.shut_on
    return day


def first_delivery(book: Book, supplier: Supplier, place: Place, start: date) -> date | None:
    """The first day from ``start`` on which the supplier delivers and the place receives."""
    for ahead in range(366):
        day = start + ahead * DAY
        if day.weekday() not in supplier.delivery_days or day in supplier.shut_on:
            continue
        if place.takes_deliveries_on(day) or book.reads(Otherwise.PLACE_CLOSURES_IGNORED):
            return day
    return None
