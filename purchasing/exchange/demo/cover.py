"""Somebody looked yesterday: what would have run out before its next delivery was bought in
time, but for a few things that nobody saw."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from purchasing.exchange.demo.deliveries import ONE_DAY
from purchasing.exchange.demo.pace import COUNTER_BUYS, pack_size
from purchasing.exchange.demo.places import COMMISSARY
from purchasing.exchange.demo.stock import Larder, countable
from purchasing.exchange.demo.table import Row, number

# Use is not even, batches are whole: so many times the mean is safe; of what spoils one
# dares less.
_SAFE, _DARED, _LONG = 2.0, 1.6, 10
# Nobody saw these in time: about so much of what is used until they come.
_UNSEEN = {"PEAR-NECTAR": 0.5, "SHRIMP": 0.5}

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Need:
    """What may be used of an item at a place until something comes on ``day``, in its own unit."""

    day: date
    qty: float


def covered(stock: list[Row], orders: list[Row], larder: Larder) -> list[Row]:
    """``stock`` with more of what would run out before the first delivery that can still be
    ordered, what is on order counted."""
    lots, coming = _by_pair(stock), _by_pair(orders)
    rows = [lot for lot in stock if (lot["location"], lot["item"]) not in _unseen(larder)]
    for pair in _bought(larder):
        needs = list(_needs(pair, coming[pair], larder))
        if pair in _unseen(larder):
            rows += _too_little(lots[pair], needs[0], _UNSEEN[pair[1]], larder)
        elif (short := _short(lots[pair], coming[pair], needs, larder)) > 0:
            rows.append(_bought_yesterday(pair, short, larder))
    return rows


def _by_pair(rows: list[Row]) -> dict[Pair, list[Row]]:
    found: dict[Pair, list[Row]] = defaultdict(list)
    for row in rows:
        found[row["location"], row["item"]].append(row)
    return found


def _bought(larder: Larder) -> Iterator[Pair]:
    for place, item in sorted(larder.pace.leaves):
        if item in larder.first and (place == COMMISSARY or item in COUNTER_BUYS):
            yield place, item


def _unseen(larder: Larder) -> set[Pair]:
    return {(COMMISSARY, item) for item in _UNSEEN}


def _needs(pair: Pair, orders: list[Row], larder: Larder) -> Iterator[Need]:
    """Until each delivery with some of it, the first that can still be ordered last."""
    place, item = pair
    calendar = larder.calendars[larder.first[item]["supplier"], place]
    last = calendar.orderable()
    days = {date.fromisoformat(row["due"]) for row in orders} | {last}
    for day in sorted(day for day in days if larder.today <= day <= last):
        span = larder.rhythm.until(place, larder.today, day)
        yield Need(day, _safe(item, larder) * larder.a_day(item, place) * span)


def _safe(item: str, larder: Larder) -> float:
    return _DARED if 0 < larder.life(item) <= _LONG else _SAFE


def _short(lots: list[Row], orders: list[Row], needs: list[Need], larder: Larder) -> float:
    """The most that is missing before any of the deliveries."""
    missing = 0.0
    for need in needs:
        there = sum(_usable(lot, need, larder) for lot in lots)
        came = sum(_own_qty(row, larder) for row in orders if row["due"] < str(need.day))
        missing = max(missing, need.qty - there - came)
    return missing


def _usable(lot: Row, need: Need, larder: Larder) -> float:
    """Of a lot that expires before, no more than is used while it keeps."""
    if lot["hold"]:
        return 0.0
    qty = float(lot["qty"])
    if not lot["use_by"] or date.fromisoformat(lot["use_by"]) >= need.day:
        return qty
    place, item, ends = lot["location"], lot["item"], date.fromisoformat(lot["use_by"])
    span = larder.rhythm.days(place, larder.today, ends + ONE_DAY)
    return min(qty, larder.a_day(item, place) * span)


def _own_qty(order: Row, larder: Larder) -> float:
    item, cases = order["item"], float(order["confirmed_cases"] or order["cases"])
    return larder.own(item, cases * pack_size(larder.first[item], larder.measures))


def _bought_yesterday(pair: Pair, qty: float, larder: Larder) -> Row:
    """Of what spoils no more than is used while it keeps."""
    place, item = pair
    received = larder.today - ONE_DAY
    if use_by := larder.use_by(item, received):
        span = larder.rhythm.days(place, larder.today, use_by + ONE_DAY)
        qty = min(qty, _safe(item, larder) * larder.a_day(item, place) * span)
    least = 1.0 if larder.measures.items[item]["unit"] == "each" else 0.5
    return larder.lot(place, item, max(qty, least), received, use_by)


def _too_little(lots: list[Row], need: Need, share: float, larder: Larder) -> Iterator[Row]:
    """Its lots, cut down alike."""
    there = sum(float(lot["qty"]) for lot in lots)
    for lot in lots:
        unit = larder.measures.items[lot["item"]]["unit"]
        part = float(lot["qty"]) * min(1.0, share * need.qty / _SAFE / there)
        yield {**lot, "qty": number(max(countable(part, unit), 1.0))}
