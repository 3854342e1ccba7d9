"""What a policy orders on one day of a replay, by the code of the reorder run."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import partial

import numpy as np

from inventory.engine.draws import NO_HOUR, DrawKey, Draws
from inventory.engine.kitchen import Coming, StockLot
from inventory.engine.projection import Floats
from purchasing.engine.asked import LineBook
from purchasing.engine.consolidate import DraftOrder, Minimums, OrderKey, consolidate
from purchasing.engine.foresight import DayAhead
from purchasing.engine.inputs import Supplier
from purchasing.engine.levels import LevelPlan
from purchasing.engine.pars import ParBook
from purchasing.engine.policies import PastUse, Policy, Rule, decide_by
from purchasing.engine.quantities import decide_lines
from purchasing.engine.reorder import Choices, Decide, Run
from purchasing.engine.replay_inputs import ONE, Arrival, Lot, Pair, ReplayLine

NOT_PLACED = frozenset({"wait", "cannot_meet_minimum"})


@dataclass(frozen=True, slots=True)
class Stand:
    """What a policy has at the first minute of a day: usable lots and what is on the way, of
    each of its lines, and the value ordered already by supplier, place and delivery."""

    stock: Mapping[Pair, Sequence[Lot]]
    coming: Mapping[Pair, Sequence[Arrival]]
    committed: Mapping[OrderKey, Decimal]


@dataclass(frozen=True, slots=True)
class Prospect:
    """Usage as a policy expects it: draws on paths of ``weights`` (P,), known to
    ``known_until`` (None: all there will be), what running out would cost, and how it decides."""

    weights: Floats
    levels: LevelPlan
    known_until: date | None
    decide: Decide
    shortage_costs: Mapping[Pair, float] = field(default_factory=dict)


def forecast_of(ahead: DayAhead) -> Prospect:
    """What a reorder run expects."""
    demand = ahead.demand
    known = ahead.horizon.known_until(demand)
    return Prospect(demand.weights, ahead.levels, known, decide_lines, ahead.shortage_costs)


def means_of(ahead: DayAhead, rule: Rule, past: Mapping[Pair, PastUse]) -> Prospect:
    """For rules that know past usage only: each day uses its mean, for certain. By that, too,
    orders short of a minimum are judged; so no forecast is needed."""
    until = ahead.horizon.sampled
    dates = [ahead.day + timedelta(days=n) for n in range((until - ahead.day).days + 1)]
    draws = {pair: _daily(one, dates) for pair, one in past.items() if one.mean > 0}
    levels = LevelPlan(draws, {}, (), (), (), (), ())
    return Prospect(np.ones(1), levels, until, partial(decide_by, rule, past))


def _daily(past: PastUse, dates: Sequence[date]) -> Draws:
    qty: dict[DrawKey, Floats] = {
        (NO_HOUR, day, day): np.array([past.mean_on(day)]) for day in dates
    }
    return Draws.of(qty)


def placed_on(
    ahead: DayAhead, policy: Policy, pars: ParBook, prospect: Prospect, stand: Stand
) -> list[DraftOrder]:
    """Drafts whose cutoff falls on the day, as they stand; any other is forgotten."""
    run = _run(ahead, pars, stand)
    due = {pair: ahead.choices[pair] for pair in sorted(ahead.due & stand.stock.keys())}
    due = _with_par(due, pars) if policy.needs_par else due
    considered = run.considered(due, prospect.levels)
    book = LineBook.of(
        run.inputs,
        pars,
        prospect.levels,
        clock=run.clock,
        as_of=run.as_of,
        known_until=prospect.known_until,
        paths=len(prospect.weights),
        shortage_costs=prospect.shortage_costs,
    )
    decisions = run.decisions(book, considered, prospect.weights, prospect.decide)
    limit = run.inputs.policy.waste_chance_limit
    minimums = Minimums(prospect.weights, limit, stand.committed)
    orders = consolidate(decisions, run.inputs.suppliers, minimums)
    return [
        order
        for order in orders
        if ahead.is_today(order.slot.order_by) and order.decision not in NOT_PLACED
    ]


def _with_par(due: Choices, pars: ParBook) -> Choices:
    """A par is asked for: where the row of the delivery's weekday has none, nothing is
    ordered for that delivery."""
    with_par = {
        pair: tuple(
            one
            for one in choices
            if one.slot is not None and pars.terms(pair, one.slot.delivery).par is not None
        )
        for pair, choices in due.items()
    }
    return {pair: choices for pair, choices in with_par.items() if choices}


def _run(ahead: DayAhead, pars: ParBook, stand: Stand) -> Run:
    """The day's run with the stock and the orders of the replay."""
    inputs = ahead.run.inputs
    lots = tuple(_lot(pair, lot) for pair, lots in stand.stock.items() for lot in lots)
    coming = tuple(
        _coming(one, line_life(ahead, one), inputs.suppliers.get(one.supplier))
        for arrivals in stand.coming.values()
        for one in arrivals
    )
    kitchen = replace(inputs.kitchen, lots=lots, coming=coming)
    return replace(ahead.run, inputs=replace(inputs, kitchen=kitchen), pars=pars)


def line_life(ahead: DayAhead, one: Arrival) -> int | None:
    return ahead.run.inputs.kitchen.items[one.item].shelf_life_days


def _lot(pair: Pair, lot: Lot) -> StockLot:
    return StockLot(*pair, lot.qty / ONE, lot.use_by, lot.received, lot.strip)


def _coming(one: Arrival, life: int | None, supplier: Supplier | None) -> Coming:
    return Coming(
        location=one.location,
        item=one.item,
        day=one.day,
        qty=one.qty / ONE,
        use_by=None if life is None else one.day + timedelta(days=life),
        arrives=supplier.arrives if supplier else None,
        reference=one.order,
    )


def order_lines(
    draft: DraftOrder, number: str, day: date, line_of: Callable[[Pair], ReplayLine]
) -> Iterator[Arrival]:
    """The lines of an order placed on ``day``, as what will arrive. The fee is shared out by
    the value of the lines, equally where they cost nothing."""
    for decision in draft.lines:
        line, offer = decision.line, decision.line.offer
        sold = line_of((line.location, line.item)).sold(offer.supplier, offer.sku)
        price = Fraction(line.case_price_for(decision.cases))
        share = Fraction(decision.value) / Fraction(draft.value) if draft.value else None
        yield Arrival(
            location=line.location,
            item=line.item,
            day=draft.slot.delivery,
            qty=decision.cases * sold.case,
            unit_cost=sold.unit_cost(price),
            supplier=offer.supplier,
            sku=offer.sku,
            order=number,
            cases=Fraction(decision.cases),
            case_price=price,
            decision=draft.decision,
            placed=day,
            fee=Fraction(draft.fee) * (share or Fraction(1, len(draft.lines))),
        )
