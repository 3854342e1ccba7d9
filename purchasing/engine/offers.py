"""Whom to buy a line from: rank among the offers in force, then landed cost (R1, R13)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import TOLERANCE, Instant, Kitchen
from inventory.engine.sourcing import Sourcing
from purchasing.engine.inputs import Offer, Supplier
from purchasing.engine.lines import LineDecision
from purchasing.engine.slots import Slot, next_slot

Pair = tuple[str, str]  # place, item


@dataclass(frozen=True, slots=True)
class Choice:
    """An offer and when its supplier can deliver; no slot: not within 60 days."""

    offer: Offer
    slot: Slot | None


@dataclass(frozen=True, slots=True)
class Market:
    """What can be bought where at ``as_of``: offers by item, slots by supplier and place."""

    offers: dict[str, list[Offer]]
    slots: dict[tuple[str, str], Slot | None]
    today: date

    @classmethod
    def at(
        cls,
        offers: Iterable[Offer],
        suppliers: dict[str, Supplier],
        kitchen: Kitchen,
        *,
        clock: BusinessClock,
        as_of: Instant,
    ) -> Market:
        by_item: dict[str, list[Offer]] = defaultdict(list)
        for offer in sorted(offers, key=lambda offer: (offer.item, offer.supplier, offer.sku)):
            by_item[offer.item].append(offer)
        slots = {
            (code, place.code): next_slot(supplier, place, clock=clock, as_of=as_of)
            for code, supplier in suppliers.items()
            for place in kitchen.places.values()
        }
        return cls(dict(by_item), slots, clock.day_of(as_of))

    def choices(self, place: str, item: str) -> tuple[Choice, ...]:
        """The offers of the first rank among those in force on their own delivery day.

        An offer without a delivery day has none to be in force on, so the next rank takes its
        place. If no supplier can deliver, the first rank of what is in force today is given,
        without a slot. Empty: the item cannot be bought there.
        """
        found = [
            Choice(offer, self.slots[offer.supplier, place]) for offer in self.offers.get(item, ())
        ]
        in_force = [one for one in found if self._price(one) is not None]
        deliverable = [one for one in in_force if one.slot is not None]
        ranked = deliverable or in_force
        best = min((one.offer.rank for one in ranked), default=0)
        return tuple(one for one in ranked if one.offer.rank == best)

    def faster(self, place: str, item: str, before: date) -> list[Choice]:
        """Offers of any rank in force that are delivered before that day (R13: bridge)."""
        found = [
            Choice(offer, self.slots[offer.supplier, place]) for offer in self.offers.get(item, ())
        ]
        early = [one for one in found if one.slot is not None and one.slot.delivery < before]
        return [one for one in early if self._price(one) is not None]

    def _price(self, choice: Choice) -> object:
        day = self.today if choice.slot is None else choice.slot.delivery
        return choice.offer.price_on(day)


def buyable(market: Market, sourcing: Sourcing) -> dict[Pair, tuple[Choice, ...]]:
    """Every place and item that may be bought there (R1): an offer is in force, nobody supplies
    the place, and the item is not made."""
    kitchen = sourcing.kitchen
    items = [item for item in sorted(market.offers) if item in kitchen.items]
    found = {
        (place, item): market.choices(place, item)
        for place in sorted(kitchen.places)
        for item in items
        if not sourcing.is_made(item) and sourcing.source(place, item) is None
    }
    return {pair: choices for pair, choices in found.items() if choices}


def cheapest(decisions: Sequence[LineDecision]) -> LineDecision:
    """Of equally ranked offers for one line, the one with the lowest landed cost per usable
    unit; then by supplier and SKU."""
    return min(decisions, key=lambda each: (landed_cost(each), each.line.key))


def landed_cost(decision: LineDecision) -> float:
    """Money per base unit that will be used: what the line costs, over what it brings less what
    is expected to spoil. Where nothing is ordered, the price per base unit. Delivery fees are
    the order's, not the line's."""
    if not decision.cases:
        return decision.line.unit_cost
    used = decision.qty - decision.reasons.expected_waste
    return float(decision.value) / max(used, TOLERANCE)
