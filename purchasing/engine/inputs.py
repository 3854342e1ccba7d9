"""All inputs of a reorder run, as plain values. Money is ``Decimal``, quantities are
``float`` in base units, days are ``date``."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time
from decimal import Decimal

from inventory.engine.demand.history import History
from inventory.engine.kitchen import Kitchen


@dataclass(frozen=True, slots=True)
class Supplier:
    code: str
    order_days: frozenset[int]  # weekdays, Monday = 0
    cutoff: time
    lead_days: int
    delivery_days: frozenset[int]
    arrives: time | None = None  # None: before the day's first draw
    closed_on: frozenset[date] = frozenset()
    minimum_order: Decimal | None = None
    fee_below_minimum: bool = False  # False: refuses below the minimum
    delivery_fee: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Offer:
    """One supplier's way of selling one item.

    ``pack_base`` is the base units of a case (nominal weight where it is catch weight);
    ``priced_units`` how many priced units a case holds (1 when priced per case).
    ``prices`` are (start, price per priced unit), ascending; in force on a day is the
    latest start on or before it. ``breaks`` are (cases, price per priced unit), ascending: from
    so many cases on every case costs that (all units).
    """

    supplier: str
    item: str
    sku: str
    pack_qty: Decimal
    pack_unit: str
    pack_base: float
    priced_per: str
    priced_units: Decimal
    prices: tuple[tuple[date, Decimal], ...]
    minimum_cases: int = 1
    case_multiple: int = 1
    rank: int = 1
    catch_weight: bool = False
    breaks: tuple[tuple[int, Decimal], ...] = ()

    def price_on(self, day: date) -> Decimal | None:
        """Price per priced unit in force on ``day``, None if not on sale yet."""
        in_force = [price for start, price in self.prices if start <= day]
        return in_force[-1] if in_force else None

    def case_price_on(self, day: date) -> Decimal | None:
        price = self.price_on(day)
        return None if price is None else price * self.priced_units

    def price_for(self, cases: int, day: date) -> Decimal | None:
        """Price per priced unit if so many cases are delivered on ``day``; a break dearer than
        the price in force is none."""
        price = self.price_on(day)
        if price is None:
            return None
        return min([price, *(lower for least, lower in self.breaks if least <= cases)])


@dataclass(frozen=True, slots=True)
class ParRule:
    """``weekday`` None is the row for every day. ``par`` is in base units."""

    location: str
    item: str
    weekday: int | None
    par: float | None
    basis: str  # fixed, forecast, greater or cost
    service_level: float | None = None
    supplied_by: str | None = None


@dataclass(frozen=True, slots=True)
class Policy:
    """Settings of a run."""

    time_zone: str
    default_service_level: float = 0.95
    holding_rate_per_year: float = 0.0
    leave_share: float = 0.5
    waste_chance_limit: float = 0.10  # R13: a case added to reach a minimum
    paths: int = 1000
    bridge: bool = True  # R13: another offer until the first choice can deliver
    price_breaks: bool = True  # R13: more cases for a lower price, where that pays


@dataclass(frozen=True, slots=True)
class ReorderInputs:
    """``approved_value`` is what is already approved or later, by supplier, location and
    delivery day; minimums are judged on the sum (R15)."""

    kitchen: Kitchen
    history: History
    suppliers: dict[str, Supplier]
    offers: tuple[Offer, ...]
    pars: tuple[ParRule, ...]
    policy: Policy
    approved_value: dict[tuple[str, str, date], Decimal] = field(default_factory=dict)
    used_today: dict[tuple[str, str], float] = field(default_factory=dict)  # location, item
    # location, item of all past usage: such a pair is considered, needed or not (R1)
    used_before: frozenset[tuple[str, str]] = frozenset()
    sale_prices: dict[str, float] = field(default_factory=dict)  # money per base unit, by item
