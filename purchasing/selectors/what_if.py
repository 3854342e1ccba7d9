"""What follows if lines of an order had so many cases, and what is missed if they do not come:
the engine of the runs, on fewer paths, for a few items only."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256

import pandas as pd

from inventory.engine.demand.paths import DemandPaths
from inventory.engine.kitchen import Coming, Instant
from inventory.engine.projection import Floats
from inventory.selectors.measures import Measures
from inventory.selectors.snapshot import one_snapshot
from purchasing.engine import inputs as engine
from purchasing.engine.asked import LineBook
from purchasing.engine.horizon import Horizon
from purchasing.engine.levels import LevelPlan
from purchasing.engine.lines import Line, LineDecision
from purchasing.engine.offers import Pair, buyable
from purchasing.engine.picture import DayPicture, line_picture
from purchasing.engine.quantities import decide_lines, decided_again
from purchasing.engine.reorder import Choices, Run
from purchasing.engine.slots import DAYS_ASSUMED, Slot
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.reorder_inputs import reorder_inputs

PATHS = 200
SEED = 1
DAYS_AFTER = timedelta(days=2)  # shown beyond the next delivery (own choice)
MOST_DAYS = timedelta(days=35)


@dataclass(frozen=True, slots=True)
class Ahead:
    """One line with so many cases. ``days`` in base units."""

    line_id: int
    decision: LineDecision
    days: tuple[DayPicture, ...]


@dataclass(frozen=True, slots=True)
class LookAhead:
    """``lines``: of the order's lines asked about; ``plan``: loads and prep runs of what they
    go into. ``run``: what can be bought where."""

    lines: Mapping[int, Ahead]
    plan: LevelPlan
    run: Run
    measures: Measures


def look_ahead(
    order: PurchaseOrder, wanted: Sequence[tuple[OrderLine, int]], *, as_of: datetime
) -> LookAhead | None:
    """``wanted``: lines of ``order`` and cases. None where its delivery day is past, or where a
    line cannot be worked out any more. Beside a draft the other drafts count as coming: what
    bridges the days until it comes is one of them."""
    with one_snapshot():
        gathered = reorder_inputs(as_of)
    inputs = replace(gathered.inputs, policy=replace(gathered.inputs.policy, paths=PATHS))
    run = Run.at(inputs, int(as_of.timestamp()))
    known = order.supplier.code in inputs.suppliers and order.location.code in inputs.kitchen.places
    if not known or order.delivery < run.market.today:
        return None
    items = {line.item.code for line, _ in wanted}
    choices = buyable(run.market, run.sourcing)
    horizon = Horizon.of(inputs.kitchen, choices, run.market.today)
    demand = _demand(run, horizon)
    plan = run.levels(horizon, demand, items)
    costs = _costs(run, {(order.location.code, item) for item in items}, choices, demand)
    book = _without(order, run.book(horizon, demand, plan, costs))
    if order.status == PurchaseOrder.Status.DRAFT:
        book = book.with_coming(_other_drafts(order, items, run.market.today))
    lines = [_line(book, order, line) for line, _ in wanted]
    decisions = _with_cases(lines, [cases for _, cases in wanted], demand.weights)
    last = min(_slot(order).next_delivery + DAYS_AFTER, run.market.today + MOST_DAYS)
    shown = {
        line.pk: Ahead(
            line.pk,
            decision,
            line_picture(
                decision.line,
                decision.cases,
                demand.weights,
                first=run.market.today,
                last=last,
            ),
        )
        for (line, _), decision in zip(wanted, decisions, strict=True)
    }
    return LookAhead(shown, plan, run, gathered.measures)


# The last demand drawn, and of what: several looks at one order draw it once.
_drawn: dict[str, DemandPaths] = {}


def _demand(run: Run, horizon: Horizon) -> DemandPaths:
    """The same inputs draw the same demand (R16), so it may be kept."""
    inputs, kitchen = run.inputs, run.inputs.kitchen
    rests_on = (
        *(run.market.today, horizon.sampled, inputs.policy.paths, inputs.used_today),
        *(kitchen.places, kitchen.items, kitchen.recipes, kitchen.stops, kitchen.menus),
    )
    digest = sha256(repr(rests_on).encode())
    for frame in (inputs.history.sales, inputs.history.usage):
        digest.update(pd.util.hash_pandas_object(frame, index=False).to_numpy().tobytes())
    key = digest.hexdigest()
    known = _drawn.get(key)
    if known is None:
        known = run.demand(horizon, SEED)
        _drawn.clear()
        _drawn[key] = known
    return known


def _costs(
    run: Run, pairs: Collection[Pair], choices: Choices, demand: DemandPaths
) -> dict[Pair, float]:
    """What running out costs; only pars of the basis cost ask."""
    asking = {
        pair: choices[pair]
        for pair in sorted(pairs)
        if pair in choices
        and any(rule.basis == "cost" for rule in run.pars.rows.get(pair, {}).values())
    }
    return run.shortage_costs(asking, demand) if asking else {}


def _without(order: PurchaseOrder, book: LineBook) -> LineBook:
    """What is asked about does not count as coming already."""
    coming = {
        pair: [one for one in ahead if one.reference != order.number]
        for pair, ahead in book.coming.items()
    }
    return replace(book, coming=coming)


def _other_drafts(order: PurchaseOrder, items: Collection[str], today: date) -> list[Coming]:
    """Of the same items to the same place."""
    lines = OrderLine.objects.filter(
        order__in=PurchaseOrder.objects.drafts().filter(skipped_at__isnull=True),
        order__location=order.location_id,
        order__delivery__gte=today,
        item__code__in=sorted(items),
        cases__gt=0,
    ).exclude(order=order)
    rows = lines.select_related("order__supplier", "order__location", "item").order_by("pk")
    return [_coming(line) for line in rows]


def _coming(line: OrderLine) -> Coming:
    order, life = line.order, line.item.shelf_life_days
    return Coming(
        location=order.location.code,
        item=line.item.code,
        day=order.delivery,
        qty=float(line.cases * line.pack_base),
        use_by=None if life is None else order.delivery + timedelta(days=life),
        arrives=order.supplier.arrives,
        reference=order.number,
    )


def _line(book: LineBook, order: PurchaseOrder, line: OrderLine) -> Line:
    pair = order.location.code, line.item.code
    return book.line(pair, _as_offer(order, line), _slot(order))


def _as_offer(order: PurchaseOrder, line: OrderLine) -> engine.Offer:
    """Pack and price as they are written on the line."""
    return engine.Offer(
        supplier=order.supplier.code,
        item=line.item.code,
        sku=line.offer.sku,
        pack_qty=line.pack_qty,
        pack_unit=line.pack_unit,
        pack_base=float(line.pack_base),
        priced_per=line.priced_per,
        priced_units=line.priced_units,
        prices=((date.min, line.price),),
        minimum_cases=line.offer.minimum_cases,
        case_multiple=line.offer.case_multiple,
        rank=line.offer.rank,
        catch_weight=line.offer.catch_weight,
    )


def _slot(order: PurchaseOrder) -> Slot:
    """Written on the order: the calendar of today may name another."""
    by = _instant(order.order_by, order)
    return Slot(
        order_by=by,
        delivery=order.delivery,
        next_delivery=order.next_delivery or order.delivery + DAYS_ASSUMED,
        last_order_by=by if order.last_order_by is None else _instant(order.last_order_by, order),
        assumed_next=order.next_delivery is None,
    )


def _instant(moment: datetime | None, order: PurchaseOrder) -> Instant:
    start = datetime.combine(order.delivery, datetime.min.time(), UTC)
    return int((moment or start).timestamp())


def _with_cases(lines: Sequence[Line], cases: Sequence[int], weights: Floats) -> list[LineDecision]:
    """What we would decide, changed to ``cases``."""
    ours = decide_lines(lines, weights)
    changed = [
        replace(decision.verdict, cases=count) for decision, count in zip(ours, cases, strict=True)
    ]
    return decided_again(lines, changed, weights)
