"""The lines that a run has to decide: one for each pair considered and each offer of the first
rank (R1, R13)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TypeVar

from inventory.engine.dates import BusinessClock
from inventory.engine.draws import Draws
from inventory.engine.kitchen import Coming, Instant, Item, StockLot
from inventory.engine.projection import Lots, arrival_hour
from purchasing.engine.inputs import Offer, ReorderInputs, Supplier
from purchasing.engine.levels import LevelPlan
from purchasing.engine.lines import Held, LaterOrder, Line, ParTerms
from purchasing.engine.offers import Choice, Pair
from purchasing.engine.pars import ParBook
from purchasing.engine.slots import Slot
from purchasing.engine.windows import Window


@dataclass(frozen=True, slots=True)
class LineBook:
    """What is there, what comes and what is drawn, by pair. ``known_until``: last day of which
    the draws are known (None: all there will be); ``paths``: how many. ``shortage_costs``: money
    per base unit missed, where a margin is known."""

    inputs: ReorderInputs
    pars: ParBook
    clock: BusinessClock
    as_of: Instant
    known_until: date | None
    paths: int
    stock: Mapping[Pair, list[StockLot]]
    coming: Mapping[Pair, list[Coming]]
    draws: Mapping[Pair, Draws]
    shortage_costs: Mapping[Pair, float] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        inputs: ReorderInputs,
        pars: ParBook,
        levels: LevelPlan,
        *,
        clock: BusinessClock,
        as_of: Instant,
        known_until: date | None,
        paths: int,
        shortage_costs: Mapping[Pair, float],
    ) -> LineBook:
        kitchen = inputs.kitchen
        return cls(
            inputs=inputs,
            pars=pars,
            clock=clock,
            as_of=as_of,
            known_until=known_until,
            paths=paths,
            stock=_by_pair((*kitchen.lots, *levels.aboard)),
            coming=_by_pair((*kitchen.coming, *levels.aboard_coming)),
            draws=levels.draws,
            shortage_costs=shortage_costs,
        )

    def lines(self, considered: Mapping[Pair, tuple[Choice, ...]]) -> list[Line]:
        """One for each choice that has a slot."""
        return [
            self.line(pair, choice.offer, choice.slot)
            for pair, choices in considered.items()
            for choice in choices
            if choice.slot is not None
        ]

    def bridge(self, late: Line, offer: Offer, slot: Slot) -> Line:
        """``offer`` for what is used until ``late`` arrives, at the service level of ``late``
        (R13)."""
        pair = late.location, late.item
        line = self.line(pair, offer, slot)
        until = replace(slot, next_delivery=late.window.start)
        return replace(
            line,
            window=line.window.until(late.window),
            terms=ParTerms(service_level=late.terms.service_level),
            held=Held.of(self.stock.get(pair, []), self.coming.get(pair, []), until),
        )

    def with_coming(self, more: Iterable[Coming]) -> LineBook:
        """With ``more`` on order as well."""
        coming = {pair: list(known) for pair, known in self.coming.items()}
        for one in more:
            coming.setdefault((one.location, one.item), []).append(one)
        return replace(self, coming=coming)

    def line(self, pair: Pair, offer: Offer, slot: Slot) -> Line:
        stock, coming = self.stock.get(pair, []), self.coming.get(pair, [])
        item = self.inputs.kitchen.items[pair[1]]
        supplier = self.inputs.suppliers[offer.supplier]
        terms = self.pars.terms(pair, slot.delivery)
        return Line(
            location=pair[0],
            item=pair[1],
            offer=offer,
            slot=slot,
            window=Window.of(slot, supplier, clock=self.clock, as_of=self.as_of),
            terms=terms,
            held=Held.of(stock, coming, slot),
            lots=Lots.of(stock, coming, clock=self.clock, as_of=self.as_of),
            draws=self.draws.get(pair) or Draws.none(self.paths),
            life=item.shelf_life_days,
            known_until=self.known_until,
            shortage_cost=self.shortage_costs.get(pair, _if_left_off(item, offer, slot)),
            holding_rate=self.inputs.policy.holding_rate_per_year,
            later=self._later(supplier, slot) if terms.basis == "cost" else (),
        )

    def _later(self, supplier: Supplier, slot: Slot) -> tuple[LaterOrder, ...]:
        """What can be ordered after this slot (R10)."""
        clock, as_of = self.clock, self.as_of
        return tuple(
            LaterOrder(
                decided=clock.day_of(cutoff),
                delivery=day,
                hour=arrival_hour(day, supplier.arrives, clock=clock, as_of=as_of),
            )
            for cutoff, day in slot.later
        )


def _if_left_off(item: Item, offer: Offer, slot: Slot) -> float | None:
    """What can be left off is missed at its own cost (R10)."""
    price = offer.case_price_on(slot.delivery)
    if not item.can_be_left_off or price is None:
        return None
    return float(price) / offer.pack_base


Placed = TypeVar("Placed", StockLot, Coming)


def _by_pair(placed: Iterable[Placed]) -> dict[Pair, list[Placed]]:
    found: dict[Pair, list[Placed]] = defaultdict(list)
    for one in placed:
        found[one.location, one.item].append(one)
    return dict(found)
