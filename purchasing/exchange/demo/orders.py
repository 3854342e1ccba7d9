"""What is on its way this morning: orders sent, one of them late, one line short."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from purchasing.exchange.demo.deliveries import Calendar
from purchasing.exchange.demo.measures import Measures
from purchasing.exchange.demo.pace import COUNTER_BUYS, Pace, Rhythm, pack_size
from purchasing.exchange.demo.pars import FixedPar
from purchasing.exchange.demo.places import COMMISSARY, COUNTER
from purchasing.exchange.demo.table import Row

Rng = np.random.Generator

_LATE = ("OSGOOD", {"LENTIL-RED": 1, "SESAME-OIL": 1, "TOMATO-PASTE": 1})
_APPROVED = ("TUCKFOLD", {"GLOVES": 1, "NAPKIN": 1})


@dataclass(frozen=True, slots=True)
class Book:
    """``on_hand``: own units at the commissary, by item."""

    measures: Measures
    pace: Pace
    rhythm: Rhythm
    fixed: dict[str, FixedPar]
    first: dict[str, Row]
    calendars: dict[tuple[str, str], Calendar]
    on_hand: dict[str, float]
    rng: Rng

    def rows(self) -> list[Row]:
        lines = [*self._late(), *self._coming(), *self._approved()]
        _one_short(lines)
        return lines

    def _coming(self) -> Iterator[Row]:
        for (supplier, place), calendar in self.calendars.items():
            for due in calendar.placed():
                for item, cases in self._cases(calendar, place, due).items():
                    yield _line(supplier, place, due, self.first[item], cases)

    def _cases(self, calendar: Calendar, place: str, due: date) -> dict[str, int]:
        asked = {}
        for item, offer in self.first.items():
            here = item in COUNTER_BUYS if place == COUNTER else True
            if offer["supplier"] != calendar.supplier.code or not here:
                continue
            cases = self._kept(item) if item in self.fixed else self._fresh(item, calendar, due)
            if cases:
                asked[item] = _allowed(cases, offer)
        return asked

    def _kept(self, item: str) -> int:
        """Brought back to par where little was left, and somebody saw it in time."""
        par, left = self.fixed[item].qty, self.on_hand.get(item, 0.0)
        if left > 0.75 * par or self.rng.random() < 0.1:
            return 0
        unit = self.measures.items[item]["unit"]
        short = self.measures.base(item, par - left, unit)
        return math.ceil(short / pack_size(self.first[item], self.measures))

    def _fresh(self, item: str, calendar: Calendar, due: date) -> int:
        """What is used until the delivery after it; of what a pack holds for longer, a pack
        on some of the days."""
        place = calendar.place.code
        days = self.rhythm.until(place, due, calendar.after(due))
        uses = self.pace.leaves.get((place, item), 0.0) * days
        packs = uses * float(self.rng.uniform(1.0, 1.25))
        packs /= pack_size(self.first[item], self.measures)
        return int(packs + (self.rng.random() if packs < 1 else 0.8))

    def _late(self) -> Iterator[Row]:
        """Due on the last delivery day before today, and not in."""
        supplier, cases = _LATE
        due = self.calendars[supplier, COMMISSARY].previous()
        for item, ordered in cases.items():
            yield _line(supplier, COMMISSARY, due, self.first[item], ordered)

    def _approved(self) -> Iterator[Row]:
        """Approved for a delivery that can still be ordered; not sent yet."""
        supplier, cases = _APPROVED
        calendar = self.calendars[supplier, COMMISSARY]
        due = calendar.orderable()
        count = 2 if due in calendar.placed() else 1
        for item, ordered in cases.items():
            yield {
                **_line(supplier, COMMISSARY, due, self.first[item], ordered, count),
                "status": "approved",
            }


def _allowed(cases: int, offer: Row) -> int:
    """Up to what the supplier sells: at least so many cases, in multiples."""
    multiple = int(offer["case_multiple"] or 1)
    least = max(cases, int(offer["minimum_cases"] or 1))
    return math.ceil(least / multiple) * multiple


def _line(supplier: str, place: str, due: date, offer: Row, cases: int, count: int = 1) -> Row:
    where = "" if place == COMMISSARY else f"-{place}"
    return {
        "supplier": supplier,
        "po": f"{supplier}{where}-{due:%Y%m%d}-{count}",
        "location": place,
        "item": offer["item"],
        "cases": str(cases),
        "due": str(due),
        "sku": offer["sku"],
        "confirmed_cases": "",
        "status": "sent",
    }


def _one_short(lines: list[Row]) -> None:
    """One supplier has answered: a case less than was ordered."""
    for line in lines:
        if int(line["cases"]) > 1 and line["status"] == "sent":
            line["confirmed_cases"] = str(int(line["cases"]) - 1)
            return
