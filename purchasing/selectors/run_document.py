"""A plan as the document that commands, pages and the API give out.

Quantities are strings of digits in the unit of the item; money as exact as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import Instant
from inventory.selectors.measures import Measures
from purchasing.engine.consolidate import DraftOrder
from purchasing.engine.lines import LineDecision, Reasons, Weighed
from purchasing.engine.reorder import LineLeftOut, Plan

Document = dict[str, Any]
CENT = Decimal("0.01")
# Places of a quantity that the engine worked out in binary floating point.
PLACES = 6
_CHANCES = {
    "stockout_chance_before_delivery",
    "stockout_chance_without",
    "stockout_chance_with",
    "service_level",
}
_MONEY = {"expected_waste_value"}


def money(amount: Decimal) -> str:
    """Rounded half up to cents, at the line and the total only."""
    return f"{amount.quantize(CENT, rounding=ROUND_HALF_UP):f}"


def digits(value: Decimal) -> str:
    """Plain digits, without trailing zeros."""
    text = f"{value:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def rounded(value: float) -> str:
    return digits(Decimal(repr(round(value, PLACES))))


def run_document(
    plan: Plan,
    *,
    as_of: Instant,
    seed: int,
    clock: BusinessClock,
    measures: Measures,
    numbers: Mapping[tuple[str, str, date], str],
) -> Document:
    """``numbers``: the number of each draft by supplier, location and delivery."""
    return {
        "as_of": clock.text(as_of),
        "seed": seed,
        "paths": plan.paths,
        "orders": [_order(order, numbers, clock, measures) for order in plan.orders],
        "not_ordered": [_left_out(line, measures) for line in plan.not_ordered],
    }


def _order(
    order: DraftOrder,
    numbers: Mapping[tuple[str, str, date], str],
    clock: BusinessClock,
    measures: Measures,
) -> Document:
    slot = order.slot
    minimum = order.minimum_order
    return {
        "number": numbers[order.supplier, order.location, slot.delivery],
        "supplier": order.supplier,
        "location": order.location,
        "order_by": clock.text(slot.order_by),
        "last_order_by": clock.text(slot.last_order_by),
        "delivery": slot.delivery.isoformat(),
        "next_delivery": slot.next_delivery.isoformat(),
        "value": money(order.value),
        "minimum_order": None if minimum is None else money(minimum),
        "decision": order.decision,
        "lines": [line_document(line, measures) for line in order.lines],
    }


def line_document(decision: LineDecision, measures: Measures) -> Document:
    line, offer = decision.line, decision.line.offer
    return {
        "item": line.item,
        "sku": offer.sku,
        "cases": decision.cases,
        "pack_qty": digits(offer.pack_qty),
        "pack_unit": offer.pack_unit,
        "qty": in_own_unit(decision.qty, line.item, measures),
        "unit": measures.own_unit(line.item),
        "price": digits(decision.price),
        "priced_per": offer.priced_per,
        "line_value": money(decision.value),
        "reasons": _line_reasons(decision, measures),
    }


def _line_reasons(decision: LineDecision, measures: Measures) -> Document:
    reasons = reasons_document(decision.reasons, decision.line.item, measures)
    if decision.line.slot.assumed_next:
        # No later delivery is known: the line says so (R2).
        reasons["next_delivery_assumed"] = True
    if decision.verdict.weighed:
        reasons["weighed"] = [weighed_document(one) for one in decision.verdict.weighed]
    return reasons


def weighed_document(one: Weighed) -> Document:
    """Money beyond the goods needed; below 0 it saves."""
    instead = None if one.instead_cost is None else money(Decimal(repr(one.instead_cost)))
    return {
        "taken": one.taken,
        "cost": money(Decimal(repr(one.cost))),
        "instead": one.instead,
        "instead_cost": instead,
    }


def _left_out(line: LineLeftOut, measures: Measures) -> Document:
    reasons: Document = {"unit": measures.own_unit(line.item)}
    if line.problem:
        reasons["reason"] = line.problem
    if line.reasons is not None:
        reasons |= reasons_document(line.reasons, line.item, measures)
    return {
        "supplier": line.supplier,
        "location": line.location,
        "item": line.item,
        "sku": line.sku,
        "reasons": reasons,
    }


def reasons_document(reasons: Reasons, item: str, measures: Measures) -> Document:
    """Every reason by its key, quantities in the item's unit, which ``unit`` names."""
    document: Document = {"unit": measures.own_unit(item)}
    for one in fields(reasons):
        document[one.name] = _reason(one.name, getattr(reasons, one.name), item, measures)
    return document


def _reason(name: str, value: object, item: str, measures: Measures) -> object:
    if isinstance(value, float | int):
        if name in _CHANCES:
            return rounded(float(value))
        if name in _MONEY:
            return money(Decimal(repr(float(value))))
        return in_own_unit(float(value), item, measures)
    if isinstance(value, tuple):
        return [day.isoformat() for day in value]
    return value.isoformat() if isinstance(value, date) else value or ""


def in_own_unit(base_qty: float, item: str, measures: Measures) -> str:
    """Base units of the engine, in the item's own unit."""
    return rounded(float(Fraction(base_qty) / measures.base_per_own(item)))
