"""One line of an order: what is asked, and the decision with its reasons."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from inventory.engine.draws import NO_HOUR, Draws
from inventory.engine.kitchen import TOLERANCE, Coming, Instant, StockLot
from inventory.engine.projection import Lots
from purchasing.engine.inputs import Offer
from purchasing.engine.slots import Slot
from purchasing.engine.windows import Window


@dataclass(frozen=True, slots=True)
class ParTerms:
    """What the par row in force on D1 says; without a row the basis is forecast (R1)."""

    basis: str = "forecast"  # fixed, forecast, greater or cost
    par: float | None = None  # base units
    service_level: float = 0.95  # 0 to 1, both excluded


@dataclass(frozen=True, slots=True)
class Held:
    """Base units at ``as_of``: usable, due by D1, due in (D1, D2), overdue."""

    on_hand: float = 0.0
    on_order: float = 0.0
    on_order_later: float = 0.0
    late: float = 0.0

    @classmethod
    def of(cls, stock: Iterable[StockLot], coming: Iterable[Coming], slot: Slot) -> Held:
        ahead = list(coming)
        first, then = slot.delivery, slot.next_delivery
        return cls(
            on_hand=math.fsum(lot.qty for lot in stock),
            on_order=math.fsum(one.qty for one in ahead if one.day <= first),
            on_order_later=math.fsum(one.qty for one in ahead if first < one.day < then),
            late=math.fsum(one.qty for one in ahead if one.late),
        )


@dataclass(frozen=True, slots=True)
class LaterOrder:
    """An order that can be placed after this one: the day of its cutoff, its delivery day and
    the hour of arrival in seconds UTC (NO_HOUR: before the day's first draw)."""

    decided: date
    delivery: date
    hour: Instant = NO_HOUR


@dataclass(frozen=True, slots=True)
class Line:
    """An item at a place, to be bought by ``offer`` in ``slot``: everything that decides.

    ``life``: days after arrival on which the new lot is usable (None: undated). ``known_until``:
    last day of which the draws are known (None: all there will be). ``shortage_cost`` per base
    unit; None where margins are not known. ``later``: the orders after this one, the first of
    them delivered on D2; none: nothing is known of them.
    """

    location: str
    item: str
    offer: Offer
    slot: Slot
    window: Window
    terms: ParTerms
    held: Held
    lots: Lots
    draws: Draws
    life: int | None = None
    known_until: date | None = None
    shortage_cost: float | None = None
    holding_rate: float = 0.0  # share of the value per year
    later: tuple[LaterOrder, ...] = ()

    @property
    def key(self) -> tuple[str, str, str, str]:
        return self.location, self.item, self.offer.supplier, self.offer.sku

    @property
    def last_day(self) -> date | None:
        """The new lot's use-by: life 0 is usable on D1 only (R6)."""
        return None if self.life is None else self.window.start + timedelta(days=self.life)

    @property
    def case_price(self) -> Decimal:
        """Money per case if one is ordered."""
        return self.case_price_for(1)

    def price_for(self, cases: int) -> Decimal:
        """Money per priced unit, the price break of so many cases included."""
        price = self.offer.price_for(cases, self.slot.delivery)
        if price is None:
            raise ValueError(f"{self.key}: the offer is not in force on {self.slot.delivery}")
        return price

    def case_price_for(self, cases: int) -> Decimal:
        return self.price_for(cases) * self.offer.priced_units

    @property
    def lowest_case_price(self) -> Decimal:
        return self.case_price_for(max((least for least, _ in self.offer.breaks), default=1))

    def value_of(self, cases: int) -> Decimal:
        """Money for so many cases, before fee and tax: every case at the price of the break
        that they reach."""
        return cases * self.case_price_for(cases)

    @property
    def unit_cost(self) -> float:
        """Money per base unit."""
        return float(self.case_price) / self.offer.pack_base


@dataclass(frozen=True, slots=True)
class Reasons:
    """The table *Reasons* of the rules, key by key; base units, chances 0 to 1, money."""

    on_hand: float
    expiring_before_use: float
    on_order: float
    on_order_later: float
    late: float
    use_to_delivery: float
    use_to_delivery_p90: float
    use_in_window: float
    use_in_window_p90: float
    target: float
    raw_need: float
    rounding: float
    minimum_top_up: float
    price_break_extra: float
    stockout_chance_before_delivery: float
    stockout_chance_without: float
    stockout_chance_with: float
    expected_waste: float
    expected_waste_value: float
    cannot_cover: tuple[date, ...]
    runs_out_on: date | None
    basis_used: str
    service_level: float
    rule: str


@dataclass(frozen=True, slots=True)
class Weighed:
    """A decision and the next best one, with what each costs beyond the goods needed, expected
    money; below 0 it saves. None: not known in money, a chance of running out decided."""

    taken: str
    cost: float
    instead: str
    instead_cost: float | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """How many cases and by which rule. ``have``: base units usable at the start of D1;
    ``topped_up``, ``for_break``: cases added to reach a minimum order and a price break, part
    of ``cases``; ``weighed``: what was decided by R13."""

    cases: int
    have: float
    raw_need: float
    target: float
    basis_used: str
    rule: str
    topped_up: int = 0
    for_break: int = 0
    weighed: tuple[Weighed, ...] = ()

    def with_more(self, cases: int) -> Verdict:
        """Cases added to reach a minimum order (R13)."""
        more = replace(self, cases=self.cases + cases, topped_up=self.topped_up + cases)
        return replace(more, rule="R13")

    def up_to(self, cases: int) -> Verdict:
        """As many cases as reach a price break (R13)."""
        more = cases - self.cases
        return replace(self, cases=cases, for_break=self.for_break + more, rule="R13")


@dataclass(frozen=True, slots=True)
class LineDecision:
    line: Line
    verdict: Verdict
    reasons: Reasons

    @property
    def cases(self) -> int:
        return self.verdict.cases

    @property
    def qty(self) -> float:
        """Base units ordered (nominal weight for catch weight)."""
        return self.cases * self.line.offer.pack_base

    @property
    def value(self) -> Decimal:
        """Money at the price in force on D1 for so many cases, before fee and tax."""
        return self.line.value_of(self.cases)

    @property
    def price(self) -> Decimal:
        """Money per priced unit, that of the price break reached."""
        return self.line.price_for(self.cases)

    @property
    def runs_out_before_next(self) -> bool:
        """A fixed par does not look beyond D1: worth a flag (R8)."""
        return self.reasons.runs_out_on is not None


def cases_for(qty: float, offer: Offer) -> int:
    """The fewest cases of ``offer`` for ``qty`` base units (R7)."""
    if qty <= TOLERANCE:
        return 0
    packs = math.ceil((qty - TOLERANCE) / offer.pack_base)
    least, multiple = max(packs, offer.minimum_cases), offer.case_multiple
    return -(-least // multiple) * multiple


def next_allowed(cases: int, offer: Offer) -> int:
    """The next count above ``cases`` that the offer permits."""
    return cases_for((cases + 1) * offer.pack_base, offer)
