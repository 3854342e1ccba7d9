"""How fast everything goes and what it costs, so that stock, pars and orders hang together."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from purchasing.exchange.demo.cards import Card
from purchasing.exchange.demo.dishes import shares_on
from purchasing.exchange.demo.measures import Measures
from purchasing.exchange.demo.places import COMMISSARY, COUNTER
from purchasing.exchange.demo.sales import COUNTER_GUESTS, Sold
from purchasing.exchange.demo.stops import EVENT_FACTOR, Service
from purchasing.exchange.demo.table import Row
from purchasing.exchange.demo.usage import Used

WEEKS_SEEN = 4
_DAYS_SEEN = 7 * WEEKS_SEEN
# Batches and load-outs are rounded up, and what trucks bring back is thrown away.
ROUNDING = 1.1

# What the counter orders from suppliers itself; the rest comes from the commissary.
COUNTER_BUYS = {
    "NOODLE",
    "SPROUT",
    "WATER",
    "GINGER-FIZZ",
    "COLD-TEA",
    "APPLE-FIZZ",
}

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Rhythm:
    """How busy each day is, one being the average of the last four weeks: ``everywhere``
    by date, the counter by weekday (its guests are few but steady)."""

    everywhere: dict[date, float]
    counter: tuple[float, ...]

    def days(self, place: str, first: date, end: date) -> float:
        """Days from ``first`` up to ``end``, each as long as it is busy."""
        span = (first + timedelta(days=n) for n in range((end - first).days))
        return sum(self._busy(place, day) for day in span)

    def until(self, place: str, first: date, delivery: date) -> float:
        """Days until a delivery is on the shelf: trucks load and cooks begin before it."""
        if place == COMMISSARY:
            return self.days(place, first, delivery + timedelta(days=1))
        return self.days(place, first, delivery) + 0.4

    def _busy(self, place: str, day: date) -> float:
        if place == COUNTER:
            return self.counter[day.weekday()]
        return self.everywhere.get(day, 1.0)


def rhythm(today: date, services: list[Service]) -> Rhythm:
    guests: dict[date, float] = defaultdict(float)
    for one in services:
        if not one.cancelled:
            guests[one.day] += one.covers * EVENT_FACTOR[one.event]
    for day in guests:
        guests[day] += COUNTER_GUESTS[day.weekday()]
    seen = [guests.get(today - timedelta(days=n), 0.0) for n in range(1, _DAYS_SEEN + 1)]
    mean, at_counter = sum(seen) / _DAYS_SEEN, sum(COUNTER_GUESTS) / 7
    return Rhythm(
        {day: count / mean for day, count in guests.items()},
        tuple(count / at_counter for count in COUNTER_GUESTS),
    )


@dataclass(frozen=True, slots=True)
class Pace:
    """Base units a day, by location and item: ``used`` for its own guests, and ``leaves``
    what goes out of the place where it is bought or made, for everybody."""

    used: dict[Pair, float]
    leaves: dict[Pair, float]


def pace(
    today: date, sold: list[Sold], used: list[Used], cards: list[Card], measures: Measures
) -> Pace:
    """Over the last four weeks; a place uses prep items as they are, and the commissary
    what they are made from."""
    since = today - timedelta(days=_DAYS_SEEN)
    lines = {card.item: measures.lines(card) for card in cards}
    own: dict[Pair, float] = defaultdict(float)
    for sale in sold:
        if sale.day >= since:
            dish = sale.item in lines
            taken = lines[sale.item] if dish else {sale.item: 1.0}
            for item, qty in taken.items():
                own[sale.location, item] += sale.qty * qty / _DAYS_SEEN
    for one in used:
        if one.day >= since:
            qty = measures.base(one.item, one.qty, one.unit)
            own[one.location, one.item] += qty / _DAYS_SEEN
    return Pace(dict(own), _leaving(own, lines))


def wanted_on(
    day: date, services: list[Service], cards: list[Card], measures: Measures
) -> dict[str, float]:
    """Base units that the guests of the trucks will take on ``day``, as far as one knows."""
    lines = {card.item: measures.lines(card) for card in cards}
    wanted: dict[str, float] = defaultdict(float)
    for one in services:
        if one.day != day or one.cancelled:
            continue
        for item, share in shares_on(one.location, one.site, 0).items():
            plates = share * one.covers * EVENT_FACTOR[one.event]
            for carried, qty in lines.get(item, {item: 1.0}).items():
                wanted[carried] += plates * qty
    return dict(wanted)


def _leaving(own: dict[Pair, float], lines: dict[str, dict[str, float]]) -> dict[Pair, float]:
    leaves: dict[Pair, float] = defaultdict(float)
    for (place, item), qty in own.items():
        buys = place == COUNTER and item in COUNTER_BUYS
        leaves[place if buys else COMMISSARY, item] += qty
    for made in _finished_first(lines):
        for item, qty in lines[made].items():
            leaves[COMMISSARY, item] += ROUNDING * qty * leaves[COMMISSARY, made]
    return {pair: qty for pair, qty in leaves.items() if qty > 0}


def _finished_first(lines: dict[str, dict[str, float]]) -> list[str]:
    """Made items, each before everything that goes into it. Dishes are used up already."""
    order: list[str] = []

    def visit(item: str) -> None:
        if item in order or item not in lines:
            return
        for user in lines:
            if item in lines[user]:
                visit(user)
        order.append(item)

    for item in lines:
        visit(item)
    return order


def costs(offers: list[Row], cards: list[Card], measures: Measures) -> dict[str, float]:
    """Cost of a base unit: the first choice's price, or what goes in."""
    known: dict[str, float] = {}
    for offer in sorted(offers, key=lambda offer: offer["rank"], reverse=True):
        known[offer["item"]] = offer_cost(offer, measures)
    lines = {card.item: measures.lines(card) for card in cards}
    for made in reversed(_finished_first(lines)):
        known[made] = sum(qty * known[item] for item, qty in lines[made].items())
    return known


def offer_cost(offer: Row, measures: Measures) -> float:
    """Price of a base unit of an offer."""
    item, price = offer["item"], float(offer["price"])
    if offer["priced_per"] != "case":
        return price / measures.base(item, 1.0, offer["priced_per"])
    return price / pack_size(offer, measures)


def pack_size(offer: Row, measures: Measures) -> float:
    """Base units of a case, nominal where its weight varies."""
    qty = float(offer["nominal_qty"] or offer["pack_qty"])
    return measures.base(offer["item"], qty, offer["pack_unit"])
