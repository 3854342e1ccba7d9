"""Lines put together to orders by supplier, place and delivery; minimum orders (R13)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.engine.projection import Floats
from inventory.engine.weighted import WEIGHT_TOLERANCE
from purchasing.engine.costs import lost_margin
from purchasing.engine.inputs import Supplier
from purchasing.engine.lines import LineDecision, Weighed
from purchasing.engine.quantities import decided_again
from purchasing.engine.slots import Slot
from purchasing.engine.topping import Topping

ZERO = Decimal(0)
OrderKey = tuple[str, str, date]  # supplier, location, delivery


@dataclass(frozen=True, slots=True)
class DraftOrder:
    """Money before fee and tax. ``approved_value``: already approved for the same supplier,
    place and delivery; minimums are judged on the sum. ``decision``: none_needed, met,
    topped_up, wait, fee_paid or cannot_meet_minimum. With ``wait`` the lines say what would be
    ordered; they are left to the next slot. ``weighed``: the way taken to a minimum and the
    next best, where there were two."""

    supplier: str
    location: str
    slot: Slot
    lines: tuple[LineDecision, ...]
    decision: str
    approved_value: Decimal = ZERO
    minimum_order: Decimal | None = None
    fee: Decimal = ZERO
    weighed: Weighed | None = None

    @property
    def value(self) -> Decimal:
        return sum((line.value for line in self.lines), ZERO)


@dataclass(frozen=True, slots=True)
class Minimums:
    """What judging a minimum takes: path weights (P,), the largest chance of waste of a case
    added, and what is approved already."""

    weights: Floats
    waste_chance_limit: float
    approved_value: Mapping[OrderKey, Decimal]


def consolidate(
    decisions: Iterable[LineDecision], suppliers: Mapping[str, Supplier], minimums: Minimums
) -> list[DraftOrder]:
    """Draft orders by order-by moment, supplier and place. Lines without cases make no order,
    but may be what an order is topped up with."""
    groups: dict[OrderKey, list[LineDecision]] = defaultdict(list)
    for decision in sorted(decisions, key=lambda each: each.line.key):
        line = decision.line
        groups[line.offer.supplier, line.location, line.slot.delivery].append(decision)
    orders = [
        _order(suppliers[key[0]], key, group, minimums)
        for key, group in groups.items()
        if any(decision.cases for decision in group)
    ]
    return sorted(orders, key=lambda each: (each.slot.order_by, each.supplier, each.location))


def _order(
    supplier: Supplier, key: OrderKey, group: Sequence[LineDecision], minimums: Minimums
) -> DraftOrder:
    approved = minimums.approved_value.get(key, ZERO)
    gap = (supplier.minimum_order or ZERO) - approved - _value(group)
    weighed: Weighed | None = None
    if not supplier.minimum_order:
        way = Way("none_needed", 0.0, group, supplier.delivery_fee)
    elif gap <= 0:
        way = Way("met", 0.0, group)
    else:
        ways = sorted(_ways(supplier, group, gap, minimums), key=lambda each: each.cost)
        way = ways[0] if ways else Way("cannot_meet_minimum", 0.0, group)
        weighed = _weighed(ways)
    return DraftOrder(
        supplier=supplier.code,
        location=key[1],
        slot=group[0].line.slot,
        lines=tuple(decision for decision in way.lines if decision.cases),
        decision=way.decision,
        approved_value=approved,
        minimum_order=supplier.minimum_order,
        fee=way.fee,
        weighed=weighed,
    )


def _value(group: Iterable[LineDecision]) -> Decimal:
    return sum((decision.value for decision in group), ZERO)


@dataclass(frozen=True, slots=True)
class Way:
    """One answer to an order that is short of the minimum. ``cost`` is what it costs beyond
    the goods that are needed, expected money."""

    decision: str
    cost: float
    lines: Sequence[LineDecision]
    fee: Decimal = ZERO


def _weighed(ways: Sequence[Way]) -> Weighed | None:
    """The first against the second, where there are two."""
    if len(ways) < 2:
        return None
    taken, instead = ways[:2]
    return Weighed(taken.decision, taken.cost, instead.decision, instead.cost)


def _ways(
    supplier: Supplier, group: Sequence[LineDecision], gap: Decimal, minimums: Minimums
) -> Iterable[Way]:
    """Ways open to an order that lacks ``gap``; of equal cost the first is taken."""
    topping = Topping(group, minimums.weights, minimums.waste_chance_limit)
    if (steps := topping.added(gap)) is not None:
        cost = sum(step.cost for step in steps)
        more = {
            row: sum(s.cases for s in steps if s.line == row) for row in {s.line for s in steps}
        }
        yield Way("topped_up", cost, _with_more(group, more, minimums.weights))
    if (loss := _loss_of_waiting(group, minimums.weights)) is not None:
        yield Way("wait", loss, group)
    if supplier.fee_below_minimum:
        fee = supplier.delivery_fee
        yield Way("fee_paid", float(fee), group, fee)


def _with_more(
    group: Sequence[LineDecision], more: Mapping[int, int], weights: Floats
) -> list[LineDecision]:
    changed = {row: group[row].verdict.with_more(cases) for row, cases in sorted(more.items())}
    lines = [group[row].line for row in changed]
    again = dict(zip(changed, decided_again(lines, list(changed.values()), weights), strict=True))
    return [again.get(row, decision) for row, decision in enumerate(group)]


def _loss_of_waiting(group: Sequence[LineDecision], weights: Floats) -> float | None:
    """Expected money lost by leaving the order to the next slot, None if that is not allowed.

    Goods of the next slot arrive on D2, so what waiting puts at risk is the window from D1 to
    D2. Where margins are not known every line must keep its service level through it; what the
    next slot orders carries it from there.
    """
    needed = [decision for decision in group if decision.cases]
    if needed[0].line.slot.assumed_next:
        return None
    lines = [decision.line for decision in needed]
    if all(line.shortage_cost is not None for line in lines):
        return lost_margin(lines, [decision.qty for decision in needed], weights)
    kept = all(
        decision.reasons.stockout_chance_without
        <= 1 - decision.line.terms.service_level + WEIGHT_TOLERANCE
        for decision in needed
    )
    return 0.0 if kept else None
