"""What the sheets say, as records with quantities in base units."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from fractions import Fraction

from tests.oracle.measures import Measure


@dataclass(frozen=True, slots=True)
class Place:
    code: str
    kind: str
    supplied_by: str
    receives: frozenset[int]
    opens: time | None
    closes: time | None
    load_time: time | None
    shut_on: frozenset[date]

    def is_open(self, day: date) -> bool:
        return day not in self.shut_on

    def takes_deliveries_on(self, day: date) -> bool:
        return day.weekday() in self.receives and self.is_open(day)


@dataclass(frozen=True, slots=True)
class Item:
    code: str
    kind: str
    measure: Measure
    life: int | None
    storage: str
    thaw_hours: Fraction | None
    tcs: bool
    ready_to_eat: bool
    on_return: str

    @property
    def comes_back(self) -> bool:
        """R12.4: without a rule, TCS or ready-to-eat food is thrown away."""
        if self.on_return:
            return self.on_return == "keep"
        return not (self.tcs or self.ready_to_eat)

    @property
    def life_once_made(self) -> int | None:
        """R6: made + 6 at most when it is both ready to eat and TCS."""
        if self.tcs and self.ready_to_eat:
            return 6 if self.life is None else min(self.life, 6)
        return self.life


@dataclass(frozen=True, slots=True)
class Supplier:
    code: str
    order_days: frozenset[int]
    cutoff: time
    lead: int
    delivery_days: frozenset[int]
    arrives: time | None
    shut_on: frozenset[date]
    minimum_order: Fraction | None
    delivery_fee: Fraction | None


@dataclass(frozen=True, slots=True)
class Offer:
    """``pack`` is base units of a case, nominal where it is catch weight."""

    supplier: str
    item: str
    sku: str
    pack: Fraction
    case_price: Fraction
    minimum: int
    multiple: int
    rank: int
    valid_from: date | None

    def in_force(self, day: date) -> bool:
        return self.valid_from is None or self.valid_from <= day


@dataclass(frozen=True, slots=True)
class Par:
    """``weekday`` None: the row for every day."""

    place: str
    item: str
    weekday: int | None
    par: Fraction | None
    basis: str
    supplied_by: str


@dataclass(frozen=True, slots=True)
class Recipe:
    """``lines``: item and as-purchased base units of it for one base unit made."""

    makes: str
    made_at: str
    hands_off_seconds: int
    smallest: Fraction | None
    largest: Fraction | None
    minutes: int
    lines: tuple[tuple[str, Fraction], ...]


@dataclass(frozen=True, slots=True)
class Stop:
    place: str
    day: date
    opens: time
    closes: time
    cancelled: bool


@dataclass(frozen=True, slots=True)
class Booking:
    place: str
    day: date
    item: str
    qty: Fraction
    confirmed: bool


@dataclass(frozen=True, slots=True)
class StockRow:
    place: str
    item: str
    qty: Fraction
    received: date | None
    use_by: date | None
    on_hold: bool


@dataclass(frozen=True, slots=True)
class OpenLine:
    supplier: str
    po: str
    place: str
    item: str
    sku: str
    cases: Fraction
    due: date
