"""What running out would cost a line, from what its dishes are expected to sell (R10)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from fractions import Fraction
from functools import cache

from inventory.engine.demand.paths import DemandPaths
from inventory.engine.kitchen import Kitchen
from inventory.engine.sourcing import Sourcing
from purchasing.engine.inputs import Offer, ReorderInputs
from purchasing.engine.missed import Margins
from purchasing.engine.offers import Choice, Pair
from purchasing.engine.real_use import RealUse, UseRow
from purchasing.engine.replay_inputs import Sold, billionths, first_rank_cost
from purchasing.engine.slots import Slot


def shortage_costs(
    inputs: ReorderInputs,
    sourcing: Sourcing,
    considered: Mapping[Pair, tuple[Choice, ...]],
    demand: DemandPaths,
) -> dict[Pair, float]:
    """Money per base unit missed between the first delivery of each pair and the next, by mean
    demand; pairs of which no margin is known are left out."""
    slots = {pair: slot for pair, choices in considered.items() if (slot := _slot(choices))}
    until = max((slot.next_delivery for slot in slots.values()), default=demand.first_day)
    rows = _expected(inputs.kitchen, demand, until)
    margins = _margins(inputs, RealUse(sourcing, _takes(inputs.kitchen)).add(rows))
    found: dict[Pair, float] = {}
    for pair, slot in slots.items():
        cost = margins.shortage_cost(pair, _window(slot))
        if cost is not None:
            found[pair] = float(cost)
    return found


def _slot(choices: Iterable[Choice]) -> Slot | None:
    """Of the first delivery among the choices."""
    known = [one.slot for one in choices if one.slot is not None]
    return min(known, key=lambda slot: slot.delivery) if known else None


def _window(slot: Slot) -> list[date]:
    days = (slot.next_delivery - slot.delivery).days
    return [slot.delivery + timedelta(days=n) for n in range(days)]


def _expected(kitchen: Kitchen, demand: DemandPaths, until: date) -> Iterator[UseRow]:
    """Mean use before ``until`` as if every dish were sold on its day."""
    stops = {stop.key: stop for stop in kitchen.stops}
    for (key, item), portions in demand.stops.items():
        stop = stops[key]
        if stop.day < until:
            qty = Fraction(float(portions @ demand.weights))
            yield UseRow(stop.location, item, stop.day, qty)
    for (place, item), by_day in demand.direct.items():
        for n, mean in enumerate((by_day @ demand.weights).tolist()):
            day = demand.first_day + timedelta(days=n)
            if mean > 0 and day < until:
                yield UseRow(place, item, day, Fraction(mean))
    for one in kitchen.bookings:
        if demand.first_day <= one.day < until:
            yield UseRow(one.location, one.item, one.day, Fraction(one.qty))


def _takes(kitchen: Kitchen) -> dict[str, tuple[tuple[str, Fraction], ...]]:
    return {
        made: tuple(
            (line.item, Fraction(line.drawn) / Fraction(recipe.quantity)) for line in recipe.lines
        )
        for made, recipe in kitchen.recipes.items()
    }


def _margins(inputs: ReorderInputs, use: RealUse) -> Margins:
    sold: dict[str, list[Sold]] = defaultdict(list)
    for offer in inputs.offers:
        sold[offer.item].append(_sold(offer))
    return Margins(
        price={item: Fraction(price) for item, price in inputs.sale_prices.items()},
        left_off=frozenset(
            one.code for one in inputs.kitchen.items.values() if one.can_be_left_off
        ),
        cost=cache(lambda pair, day: first_rank_cost(sold.get(pair[1], ()), day)),
        leave_share=Fraction(inputs.policy.leave_share),
        use=use,
    )


def _sold(offer: Offer) -> Sold:
    return Sold(offer, billionths(Fraction(offer.pack_base)))
