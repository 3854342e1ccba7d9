"""A replay as the document and the tables that are given out.

Quantities are strings of digits: in the item's own unit in the document, in base units in the
tables. Money is rounded half up to cents here, once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any

from inventory.engine.units import as_decimal
from inventory.selectors.measures import Measures
from purchasing.engine.replay import PolicyReplay
from purchasing.engine.replay_figures import (
    Figures,
    LineFigures,
    lacks_margin,
    line_figures,
    missed_before_first_delivery,
    stock_by_night,
    totals,
)
from purchasing.engine.replay_inputs import ONE, Arrival, Billionths, Pair, ReplayInputs
from purchasing.selectors.run_document import digits

Document = dict[str, Any]
DAILY = (
    *("policy", "date", "location", "item", "on_hand_start", "arrived", "ordered_cases"),
    *("usage", "met", "lost", "expired", "on_hand_end"),
)
ORDERS = (
    *("policy", "placed", "supplier", "location", "item", "sku", "cases", "qty", "case_price"),
    *("delivery", "order", "decision"),
)
_MONEY = (
    *("avoidable", "lost_margin", "waste", "holding", "fees", "spend"),
    *("opening_value", "used", "closing_value"),
)
_COUNTS = ("orders", "order_lines", "stockout_days", "line_days")


def half_up(value: Fraction, places: int) -> str:
    """Rounded half up, away from 0, with so many places."""
    scale = 10**places
    whole = int(abs(value) * scale + Fraction(1, 2))
    amount = Decimal(whole if value >= 0 else -whole).scaleb(-places)
    return f"{amount + 0:.{places}f}"


def replay_document(
    given: ReplayInputs,
    done: Sequence[PolicyReplay],
    *,
    seed: int,
    currency: str,
    lines: int,
    measures: Measures,
) -> Document:
    return {
        "from": given.first.isoformat(),
        "to": given.last.isoformat(),
        "seed": seed,
        "paths": given.known.policy.paths,
        "currency": currency,
        "lines": lines,
        "policies": [_policy(one, given, measures) for one in done],
    }


def _policy(done: PolicyReplay, given: ReplayInputs, measures: Measures) -> Document:
    lines = line_figures(done, given)
    return {
        "policy": done.policy.name,
        "totals": _figures(totals(done, lines)),
        "without_margin": [_named(s.line.pair) for s in done.shelves if lacks_margin(s.line)],
        "without_par": [_named(pair) for pair in done.without_par],
        "lines": [_line(one, measures) for one in lines],
    }


def night_values(done: Iterable[PolicyReplay]) -> Document:
    """Value in stock each night, by policy, in cents as text."""
    return {one.policy.name: [half_up(value, 2) for value in stock_by_night(one)] for one in done}


def missed_early(done: Iterable[PolicyReplay]) -> Document:
    """By policy, in cents as text: margin missed before the first delivery of lines that had
    no stock on the first morning."""
    return {one.policy.name: half_up(missed_before_first_delivery(one), 2) for one in done}


def _named(pair: Pair) -> Document:
    return {"location": pair[0], "item": pair[1]}


def _figures(figures: Figures) -> Document:
    money = {name: half_up(getattr(figures.money, name), 2) for name in _MONEY}
    counts = {name: getattr(figures, name) for name in _COUNTS}
    return {**money, **counts, "fill_rate": half_up(figures.fill_rate, 4)}


def _line(one: LineFigures, measures: Measures) -> Document:
    item = one.line.item
    per_own = measures.base_per_own(item)
    return {
        **_named(one.line.pair),
        "unit": measures.own_unit(item),
        **_figures(one.figures),
        **{
            name: digits(as_decimal(Fraction(getattr(one, name), ONE) / per_own))
            for name in ("lost", "expired", "usage", "met")
        },
    }


def base_units(qty: Billionths) -> str:
    return digits(Decimal(qty).scaleb(-9))


def daily_rows(done: Iterable[PolicyReplay]) -> Iterator[list[str]]:
    """Rows of ``daily.csv`` by policy, day and line."""
    for one in done:
        for number in range(len(one.shelves[0].rows) if one.shelves else 0):
            for shelf in one.shelves:
                row = shelf.rows[number]
                yield [
                    one.policy.name,
                    row.day.isoformat(),
                    *shelf.line.pair,
                    base_units(row.on_hand_start),
                    base_units(row.arrived),
                    plain(row.ordered_cases),
                    *map(base_units, (row.usage, row.met, row.lost, row.expired)),
                    base_units(row.on_hand_end),
                ]


def order_rows(done: Iterable[PolicyReplay]) -> Iterator[list[str]]:
    """Rows of ``orders.csv`` by policy, day placed and order."""
    for policy in done:
        for one in policy.placed:
            yield [policy.policy.name, *_order_row(one)]


def _order_row(one: Arrival) -> list[str]:
    return [
        one.placed.isoformat() if one.placed else "",
        one.supplier,
        one.location,
        one.item,
        one.sku,
        plain(one.cases),
        base_units(one.qty),
        plain(one.case_price),
        one.day.isoformat(),
        one.order,
        one.decision,
    ]


def plain(value: Fraction) -> str:
    """Digits of a decimal fraction, all of them."""
    with localcontext() as context:
        context.prec = 60
        return digits(Decimal(value.numerator) / Decimal(value.denominator))
