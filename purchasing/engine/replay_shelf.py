"""The stock of one line while days are replayed, to the last billionth (R6, one level deep)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction

from purchasing.engine.replay_inputs import ONE, TOLERANCE, Arrival, Billionths, Lot, ReplayLine


@dataclass(frozen=True, slots=True)
class DayRow:
    """One line on one day, billionths of a base unit: on_hand_start + arrived - expired - met
    = on_hand_end, and met + lost = usage. ``ordered_cases``: placed that morning, all offers
    together."""

    day: date
    on_hand_start: Billionths
    arrived: Billionths
    ordered_cases: Fraction
    usage: Billionths
    met: Billionths
    lost: Billionths
    expired: Billionths
    on_hand_end: Billionths


@dataclass(slots=True)
class ByCost:
    """Quantities by what a base unit costs, so that money is worked out once and exactly."""

    qty: Counter[Fraction] = field(default_factory=Counter)

    def add(self, qty: Billionths, unit_cost: Fraction) -> None:
        self.qty[unit_cost] += qty

    @property
    def money(self) -> Fraction:
        return sum((cost * qty for cost, qty in self.qty.items()), Fraction(0)) / ONE


@dataclass(slots=True)
class Tally:
    """What a line's days come to. ``nights``: what lay there overnight, added up;
    ``missed``: lost by shortage cost; ``met_at_cost``, ``usage_at_cost``: by the line's unit
    cost of the day."""

    spent: ByCost = field(default_factory=ByCost)
    used: ByCost = field(default_factory=ByCost)
    expired: ByCost = field(default_factory=ByCost)
    nights: ByCost = field(default_factory=ByCost)
    missed: ByCost = field(default_factory=ByCost)
    met_at_cost: ByCost = field(default_factory=ByCost)
    usage_at_cost: ByCost = field(default_factory=ByCost)


@dataclass(slots=True)
class LineShelf:
    """Lots in the order in which they are used: use-by (undated last), received, strip.
    ``values``: what lay there each night, money."""

    line: ReplayLine
    lots: list[Lot]
    tally: Tally = field(default_factory=Tally)
    rows: list[DayRow] = field(default_factory=list)
    values: list[Fraction] = field(default_factory=list)

    @classmethod
    def opened(cls, line: ReplayLine) -> LineShelf:
        return cls(line, sorted(line.opening, key=_order))

    @property
    def on_hand(self) -> Billionths:
        return sum(lot.qty for lot in self.lots)

    @property
    def value(self) -> Fraction:
        return sum((lot.qty * lot.unit_cost for lot in self.lots), Fraction(0)) / ONE

    def usable(self, day: date) -> list[Lot]:
        return [lot for lot in self.lots if lot.use_by is None or lot.use_by >= day]

    def live(self, day: date, arrivals: Iterable[Arrival], ordered_cases: Fraction) -> None:
        """One day: what is due arrives, what is past its use-by goes, usage is drawn, and what
        is missing is lost."""
        start = self.on_hand
        arrived = self._take_in(day, arrivals)
        expired = self._throw_away(day)
        usage = self.line.use.get(day, 0)
        met = self._draw(usage)
        lost = usage - met
        self._weigh(day, usage, met, lost)
        row = DayRow(day, start, arrived, ordered_cases, usage, met, lost, expired, self.on_hand)
        self.rows.append(row)
        self.values.append(self.value)

    def _take_in(self, day: date, arrivals: Iterable[Arrival]) -> Billionths:
        """Among equals what lay there is used before what comes, and what was ordered first
        before the rest (a tilde sorts after the strips of stored lots)."""
        arrived = 0
        for number, one in enumerate(arrivals):
            strip = f"~{day.isoformat()}/{number:04}"
            use_by = self.line.use_by(day)
            self.lots.append(Lot(one.qty, use_by, day, strip, one.unit_cost))
            self.tally.spent.add(one.qty, one.unit_cost)
            arrived += one.qty
        self.lots.sort(key=_order)
        return arrived

    def _throw_away(self, day: date) -> Billionths:
        kept = self.usable(day)
        gone = [lot for lot in self.lots if lot.use_by is not None and lot.use_by < day]
        for lot in gone:
            self.tally.expired.add(lot.qty, lot.unit_cost)
        self.lots = kept
        return sum(lot.qty for lot in gone)

    def _draw(self, usage: Billionths) -> Billionths:
        want, left = usage, list[Lot]()
        for lot in self.lots:
            taken = min(want, lot.qty)
            want -= taken
            self.tally.used.add(taken, lot.unit_cost)
            if taken < lot.qty:
                left.append(replace(lot, qty=lot.qty - taken))
        self.lots = left
        return usage - want

    def _weigh(self, day: date, usage: Billionths, met: Billionths, lost: Billionths) -> None:
        for lot in self.lots:
            self.tally.nights.add(lot.qty, lot.unit_cost)
        if lost:
            self.tally.missed.add(lost, self.line.shortage_cost.get(day) or Fraction(0))
        unit_cost = self.line.first_rank_cost(day) or Fraction(0)
        self.tally.met_at_cost.add(met, unit_cost)
        self.tally.usage_at_cost.add(usage, unit_cost)

    @property
    def stockout_days(self) -> int:
        return sum(row.lost > TOLERANCE for row in self.rows)


def _order(lot: Lot) -> tuple[date, date, str]:
    return lot.use_by or date.max, lot.received or date.min, lot.strip
