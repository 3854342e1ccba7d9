"""Supplier calendars as the orders already placed met them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from inventory.engine.kitchen import Place
from purchasing.engine.inputs import Supplier
from purchasing.engine.slots import first_delivery_from
from purchasing.exchange.demo.places import COMMISSARY, COUNTER, LOCATIONS
from purchasing.exchange.demo.stops import WEEKDAYS
from purchasing.exchange.demo.suppliers import SUPPLIERS
from purchasing.exchange.demo.table import Row

CLOSED_SUPPLIER = "MARLPIT"
ONE_DAY = timedelta(days=1)
_BACK = 9  # days: no order is on its way for longer


@dataclass(frozen=True, slots=True)
class Calendar:
    """One supplier's deliveries to one place, as of a moment in business time."""

    supplier: Supplier
    place: Place
    now: datetime

    @property
    def today(self) -> date:
        return self.now.date()

    def placed(self) -> list[date]:
        """Days on which something ordered before ``now`` is still to come."""
        days = [self.today - n * ONE_DAY for n in range(_BACK)]
        return sorted(
            {due for day in days if self._shut(day) and self._to_come(due := self.due(day))}
        )

    def orderable(self) -> date:
        """The first delivery that can still be ordered."""
        days = [self.today + n * ONE_DAY for n in range(4 * _BACK)]
        return next(
            self.due(day) for day in days if self._takes_orders(day) and not self._shut(day)
        )

    def next_arrival(self) -> date:
        return (self.placed() or [self.orderable()])[0]

    def previous(self) -> date:
        """The last delivery day before today."""
        days = [self.today - n * ONE_DAY for n in range(1, 4 * _BACK)]
        return next(
            day for day in days if first_delivery_from(day, self.supplier, self.place) == day
        )

    def after(self, day: date) -> date:
        """The delivery that follows one on ``day``."""
        found = first_delivery_from(day + ONE_DAY, self.supplier, self.place)
        assert found is not None  # every supplier here delivers every week
        return found

    def due(self, ordered: date) -> date:
        lead = timedelta(days=self.supplier.lead_days)
        return self.after(ordered + lead - ONE_DAY)

    def _takes_orders(self, day: date) -> bool:
        return day.weekday() in self.supplier.order_days and day not in self.supplier.closed_on

    def _shut(self, day: date) -> bool:
        """Whether orders were taken on ``day`` and its cutoff is past."""
        cutoff = datetime.combine(day, self.supplier.cutoff, self.now.tzinfo)
        return self._takes_orders(day) and cutoff < self.now

    def _to_come(self, due: date) -> bool:
        """What came this morning has not been taken in yet."""
        return due >= self.today


def calendars(now: datetime) -> dict[tuple[str, str], Calendar]:
    """By supplier and by the place it delivers to: the commissary, or the counter."""
    closed = closure_day(now.date())
    places = {row["code"]: _place(row) for row in LOCATIONS}
    return {
        (row["code"], code): Calendar(_supplier(row, closed), places[code], now)
        for row in SUPPLIERS
        for code in (COMMISSARY, COUNTER)
    }


def closure_rows(today: date) -> list[Row]:
    """One house shut on its next delivery day but one, and one that was shut last month."""
    return [
        {"supplier": CLOSED_SUPPLIER, "date": str(closure_day(today))},
        {"supplier": "FENNICK", "date": str(today - 30 * ONE_DAY)},
    ]


def closure_day(today: date) -> date:
    row = next(row for row in SUPPLIERS if row["code"] == CLOSED_SUPPLIER)
    days = _days(row["delivery_days"])
    return next(day for n in range(2, 9) if (day := today + n * ONE_DAY).weekday() in days)


def _supplier(row: Row, closed: date) -> Supplier:
    return Supplier(
        code=row["code"],
        order_days=_days(row["order_days"]),
        cutoff=time.fromisoformat(row["cutoff"]),
        lead_days=int(row["lead_days"]),
        delivery_days=_days(row["delivery_days"]),
        arrives=time.fromisoformat(row["arrives"]) if row["arrives"] else None,
        closed_on=frozenset({closed} if row["code"] == CLOSED_SUPPLIER else ()),
    )


def _place(row: Row) -> Place:
    return Place(row["code"], row["kind"], receives=_days(row["receives"]))


def _days(text: str) -> frozenset[int]:
    return frozenset(WEEKDAYS.index(day) for day in text.split(";") if day) or frozenset(range(7))
