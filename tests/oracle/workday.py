"""R12.6: when a batch can be worked, in the working hours of open days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from tests.oracle.book import Book
from tests.oracle.clock import DAY, Moment
from tests.oracle.readings import Otherwise
from tests.oracle.records import Place

DAYS_LOOKED_BACK = 90


@dataclass(frozen=True, slots=True)
class Workdays:
    book: Book
    place: Place

    def opens(self, day: date) -> Moment:
        if self.place.opens is None or self.book.reads(Otherwise.WORKING_HOURS_LEFT_OUT):
            return self.book.clock.at(day, time(0))
        return self.book.clock.at(day, self.place.opens)

    def closes(self, day: date) -> Moment:
        if self.place.closes is None or self.book.reads(Otherwise.WORKING_HOURS_LEFT_OUT):
            return self.book.clock.midnight_after(day)
        return self.book.clock.at(day, self.place.closes)

    def is_open(self, day: date) -> bool:
        return self.place.is_open(day) or self.book.reads(Otherwise.PREP_ON_CLOSING_DAYS)

    def last_open_day_before(self, day: date) -> date:
        day -= DAY
        while not self.place.is_open(day):
            day -= DAY
        return day

    def latest_start(self, minutes: int, end_by: Moment) -> Moment:
        """Latest start of work that ends by ``end_by`` and lies whole in one open day."""
        if self.book.reads(Otherwise.MINUTES_LEFT_OUT):
            minutes = 0
        day = self.book.clock.day_of(end_by)
        for _ in range(DAYS_LOOKED_BACK):
            start = min(end_by, self.closes(day)) - minutes * 60
            if self.is_open(day) and start >= self.opens(day):
                return start
            day -= DAY
        raise ValueError("no open day is long enough")

    def inside(self, moment: Moment) -> Moment:
        """``moment`` itself in working hours, else the last working moment before it."""
        return self.latest_start(0, moment)

    def hours_before(self, moment: Moment, seconds: int) -> Moment:
        """Elapsed hours, clock changes counted."""
        if not self.book.reads(Otherwise.WALL_CLOCK_HOURS):
            return moment - seconds
        wall = datetime.fromisoformat(self.book.clock.text(moment)) - timedelta(seconds=seconds)
        return self.book.clock.read(wall.isoformat())
