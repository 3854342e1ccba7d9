"""R12.1 to R12.4: from bookings at the trucks to what leaves the commissary, and when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time
from fractions import Fraction

from tests.oracle.book import Book
from tests.oracle.clock import DAY, Moment
from tests.oracle.readings import Otherwise
from tests.oracle.records import Place, StockRow
from tests.oracle.shelf import Lot, take
from tests.oracle.workday import Workdays

Wanted = dict[str, Fraction]


@dataclass(frozen=True, slots=True)
class Need:
    """A quantity of an item at the commissary: when it must be there and the day it is for."""

    item: str
    moment: Moment
    day_of_use: date
    qty: Fraction


@dataclass(frozen=True, slots=True)
class Service:
    """A stop that is held, or bookings without a stop (``opens`` None)."""

    day: date
    opens: time | None
    wanted: Wanted


def carried(book: Book, item: str, qty: Fraction) -> Iterator[tuple[str, Fraction]]:
    """A menu item opened up to what a truck carries; prep items stay closed."""
    if book.items[item].kind != "menu" or item not in book.recipes:
        yield item, qty
        return
    for line_item, amount in book.recipes[item].lines:
        yield from carried(book, line_item, qty * amount)


def wanted_on(book: Book, place: str, day: date) -> Wanted:
    wanted: Wanted = defaultdict(Fraction)
    for booking in book.bookings:
        counts = booking.confirmed or book.reads(Otherwise.ALL_COUNT)
        if booking.place == place and booking.day == day and counts:
            for item, qty in carried(book, booking.item, booking.qty):
                wanted[item] += qty
    return wanted


def services(book: Book, truck: str, today: date) -> Iterator[Service]:
    days = {stop.day for stop in book.stops if stop.place == truck}
    days |= {booking.day for booking in book.bookings if booking.place == truck}
    for day in sorted(day for day in days if day >= today):
        yield from _services_of_day(book, truck, day)


def _services_of_day(book: Book, truck: str, day: date) -> Iterator[Service]:
    planned = [stop for stop in book.stops if stop.place == truck and stop.day == day]
    held = sorted(
        stop.opens for stop in planned if not stop.cancelled or book.reads(Otherwise.ALL_COUNT)
    )
    wanted = wanted_on(book, truck, day)
    if not planned and wanted:
        yield Service(day, None, wanted)
    for number, opens in enumerate(held):
        yield Service(day, opens, wanted if number == 0 else {})


def is_aboard(book: Book, row: StockRow, today: date) -> bool:
    """Usable stock of a truck: not on hold, received, not past use-by."""
    if row.on_hold and not book.reads(Otherwise.HOLDS_IGNORED):
        return False
    if row.received is not None and row.received > today:
        return False
    return row.use_by is None or row.use_by >= today


@dataclass(slots=True)
class Truck:
    """One truck's days in order; ``aboard`` are the lots netted truck by truck."""

    book: Book
    place: Place
    as_of: Moment
    aboard: dict[str, list[Lot]]

    def load_outs(self) -> Iterator[Need]:
        today = self.book.clock.day_of(self.as_of)
        for service in services(self.book, self.place.code, today):
            leaves = leaving_moment(self.book, self.place, service, self.as_of)
            for item, qty in sorted(service.wanted.items()):
                load = self._net(item, qty, service.day)
                if load > 0:
                    yield Need(item, leaves, service.day, load)
            self._back()

    def _net(self, item: str, qty: Fraction, day: date) -> Fraction:
        if self.book.reads(Otherwise.ABOARD_LEFT_OUT):
            return qty
        return take(self.aboard.get(item, []), qty, day)

    def _back(self) -> None:
        for item in list(self.aboard):
            if not self._keeps(item):
                del self.aboard[item]

    def _keeps(self, item: str) -> bool:
        if self.book.reads(Otherwise.NOTHING_DISCARDED):
            return True
        if self.book.reads(Otherwise.ALL_DISCARDED):
            return False
        return self.book.items[item].comes_back


def trucks_of(book: Book, commissary: str, as_of: Moment) -> Iterator[Truck]:
    today = book.clock.day_of(as_of)
    for place in sorted(book.places.values(), key=lambda place: place.code):
        if place.supplied_by == commissary:
            aboard: dict[str, list[Lot]] = defaultdict(list)
            for row in book.stock:
                if row.place == place.code and is_aboard(book, row, today):
                    lot = Lot(row.qty, row.use_by, row.received or date.min, "")
                    if not counts_at_commissary(book, row.item):
                        aboard[row.item].append(lot)
            yield Truck(book, place, as_of, aboard)


def counts_at_commissary(book: Book, item: str) -> bool:
    return book.one_stock(item) and not book.reads(Otherwise.UNDATED_TRUCK_BY_TRUCK)


def leaving_moment(book: Book, truck: Place, service: Service, as_of: Moment) -> Moment:
    commissary = book.places[truck.supplied_by]
    hour = truck.load_time or commissary.load_time or service.opens or time(0)
    day = service.day
    evening_before = service.opens is not None and hour > service.opens
    if evening_before and not book.reads(Otherwise.EVENING_LOAD_LEFT_OUT):
        day -= DAY
    if not commissary.is_open(day) and not book.reads(Otherwise.LOADING_ON_CLOSING_DAYS):
        day = Workdays(book, commissary).last_open_day_before(day)
        hour = commissary.closes or hour
    return max(as_of, book.clock.at(day, hour))
