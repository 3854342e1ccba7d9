"""The reorder run: gather, plan, write drafts.

Nothing is locked while it computes. Before the drafts are written the orders are looked at
once more: if one was approved, sent or received meanwhile, the plan is worked out again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from typing import TypeVar

import pandas as pd
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from inventory.engine.dates import BusinessClock
from inventory.models import Item, Location
from inventory.problems import Problem, Refused
from inventory.selectors.measures import Measures
from inventory.selectors.snapshot import one_snapshot
from inventory.services.turns import one_at_a_time
from purchasing.engine.consolidate import DraftOrder
from purchasing.engine.inputs import ReorderInputs
from purchasing.engine.lines import LineDecision
from purchasing.engine.reorder import LineLeftOut, Plan, plan_orders
from purchasing.models import PurchaseOrder, ReorderRun, RunLine, Supplier
from purchasing.selectors.on_order import orders_digest
from purchasing.selectors.reorder_inputs import Gathered, reorder_inputs
from purchasing.selectors.run_document import (
    Document,
    line_document,
    reasons_document,
    run_document,
    weighed_document,
)
from purchasing.services.drafts import DraftKey, DraftWriter, Numbers, WantedLine, WantedOrder

T = TypeVar("T", DraftOrder, LineLeftOut)

TRIES = 5
DEFAULT_SEED = 1


@dataclass(frozen=True, slots=True)
class Scope:
    """Drafts of which location and supplier are written; the whole is computed all the same,
    since minimums need the others."""

    location: str | None = None
    supplier: str | None = None

    def holds(self, supplier: str, location: str) -> bool:
        return self.supplier in (None, supplier) and self.location in (None, location)


@dataclass(frozen=True, slots=True)
class DrawnUp:
    """What a run drew up. ``document`` is the answer that commands and pages give out."""

    plan: Plan
    document: Document


def draw_up_orders(
    *,
    as_of: datetime,
    seed: int = DEFAULT_SEED,
    scope: Scope | None = None,
    dry_run: bool = False,
) -> DrawnUp:
    """Work out what to order at ``as_of`` and write it as drafts; ``dry_run`` stores nothing.

    The same data, moment and seed change no row. Raises ``Refused`` if the orders keep
    changing while it computes.
    """
    scope = scope or Scope()
    check_scope(scope)
    for _ in range(TRIES):
        with one_snapshot():
            gathered = reorder_inputs(as_of)
        plan = plan_orders(gathered.inputs, as_of=int(as_of.timestamp()), seed=seed)
        work = _Work(gathered, plan, as_of, seed, scope)
        numbers = _numbers(work.wanted) if dry_run else work.write()
        if numbers is not None:
            return work.answer(numbers)
    raise Refused(
        Problem(
            "orders_keep_changing",
            "Orders were approved or received while this was worked out, several times. "
            "Nothing was changed; run it again.",
        )
    )


def check_scope(scope: Scope) -> None:
    """Raises ``Refused`` for codes that nobody has."""
    problems = []
    if scope.location and not Location.objects.filter(code=scope.location).exists():
        problems.append(_unknown("location", scope.location))
    if scope.supplier and not Supplier.objects.filter(code=scope.supplier).exists():
        problems.append(_unknown("supplier", scope.supplier))
    if problems:
        raise Refused(problems)


def _unknown(what: str, code: str) -> Problem:
    message = f"There is no {what} '{code}'. Use the code of one that the workbook lists."
    return Problem(f"unknown_{what}", message, what)


@dataclass(frozen=True, slots=True)
class _Work:
    gathered: Gathered
    plan: Plan
    as_of: datetime
    seed: int
    scope: Scope

    @property
    def clock(self) -> BusinessClock:
        return BusinessClock(self.gathered.inputs.policy.time_zone)

    @property
    def wanted(self) -> list[WantedOrder]:
        orders = (_wanted(order, self.gathered.measures) for order in self.plan.orders)
        return [order for order in orders if self.scope.holds(order.supplier, order.location)]

    @transaction.atomic(durable=True)
    def write(self) -> dict[DraftKey, str] | None:
        """Numbers of the drafts; None if an order changed since the inputs were read: nothing
        is written then."""
        one_at_a_time("reorder")
        run = _once(partial(_stored_run, self))
        # The writer locks the drafts: from here on none of them can be approved, which the
        # look at the orders would miss.
        today = self.clock.day_of(int(self.as_of.timestamp()))
        writer = DraftWriter(run, self.gathered.measures, at=self.as_of, today=today)
        if orders_digest() != self.gathered.orders_digest:
            return None
        writer.write(self.wanted, self.scope.holds)
        return _numbers(self.wanted)

    def answer(self, numbers: dict[DraftKey, str]) -> DrawnUp:
        document = run_document(
            self._plan_in_scope(),
            as_of=int(self.as_of.timestamp()),
            seed=self.seed,
            clock=self.clock,
            measures=self.gathered.measures,
            numbers=numbers,
        )
        return DrawnUp(self.plan, document)

    def _plan_in_scope(self) -> Plan:
        def kept(part: Iterable[T]) -> tuple[T, ...]:
            return tuple(one for one in part if self.scope.holds(one.supplier, one.location))

        orders, left = kept(self.plan.orders), kept(self.plan.not_ordered)
        return replace(self.plan, orders=orders, not_ordered=left)


def _numbers(wanted: list[WantedOrder]) -> dict[DraftKey, str]:
    """Numbers of the drafts; one that is not stored has the number that it would get."""
    drafts = PurchaseOrder.objects.drafts().values_list(
        "supplier__code", "location__code", "delivery", "number"
    )
    known = {(supplier, place, day): number for supplier, place, day, number in drafts}
    counts = Numbers()
    return {
        order.key: known.get(order.key) or counts.next(order.supplier, order.delivery)
        for order in sorted(wanted, key=lambda each: each.key)
    }


def _wanted(order: DraftOrder, measures: Measures) -> WantedOrder:
    slot = order.slot
    return WantedOrder(
        supplier=order.supplier,
        location=order.location,
        delivery=slot.delivery,
        next_delivery=slot.next_delivery,
        order_by=datetime.fromtimestamp(slot.order_by, UTC),
        last_order_by=datetime.fromtimestamp(slot.last_order_by, UTC),
        decision=order.decision,
        lines=tuple(_wanted_line(line, measures) for line in order.lines),
        weighed=None if order.weighed is None else weighed_document(order.weighed),
    )


def _wanted_line(decision: LineDecision, measures: Measures) -> WantedLine:
    line, offer = decision.line, decision.line.offer
    document = line_document(decision, measures)
    return WantedLine(
        item=line.item,
        sku=offer.sku,
        cases=decision.cases,
        pack_qty=offer.pack_qty,
        pack_unit=offer.pack_unit,
        price=decision.price,
        priced_per=offer.priced_per,
        priced_units=offer.priced_units,
        reasons=document["reasons"],
    )


def _once(make: Callable[[], ReorderRun]) -> Callable[[], ReorderRun]:
    made: list[ReorderRun] = []

    def run() -> ReorderRun:
        if not made:
            made.append(make())
        return made[0]

    return run


def _stored_run(work: _Work) -> ReorderRun:
    """The run with every pair considered, so that a past decision can be read again."""
    run, created = ReorderRun.objects.get_or_create(
        as_of=work.as_of,
        seed=work.seed,
        paths=work.plan.paths,
        inputs_digest=inputs_digest(work.gathered.inputs),
        defaults={
            "settings": {"paths": settings.REORDER_PATHS},
            "worked_out_at": timezone.now(),
        },
    )
    if created:
        RunLine.objects.bulk_create(_run_lines(run, work), batch_size=1000)
    return run


def _run_lines(run: ReorderRun, work: _Work) -> list[RunLine]:
    items = dict(Item.objects.values_list("code", "pk"))
    places = dict(Location.objects.values_list("code", "pk"))
    suppliers = dict(Supplier.objects.values_list("code", "pk"))
    measures = work.gathered.measures

    def row(place: str, item: str, supplier: str, sku: str, cases: int, why: object) -> RunLine:
        return RunLine(
            run=run,
            location_id=places[place],
            item_id=items[item],
            supplier_id=suppliers[supplier],
            sku=sku,
            cases=cases,
            reasons=why,
        )

    ordered = [
        row(
            one.line.location,
            one.line.item,
            one.line.offer.supplier,
            one.line.offer.sku,
            one.cases,
            reasons_document(one.reasons, one.line.item, measures),
        )
        for order in work.plan.orders
        for one in order.lines
    ]
    left = [
        row(
            one.location,
            one.item,
            one.supplier,
            one.sku,
            0,
            reasons_document(one.reasons, one.item, measures)
            if one.reasons
            else {"reason": one.problem},
        )
        for one in work.plan.not_ordered
    ]
    return [*ordered, *left]


def inputs_digest(inputs: ReorderInputs) -> str:
    """One word for all inputs: equal inputs, equal word, on any machine."""
    digest = hashlib.sha256()
    for part in (
        inputs.kitchen,
        inputs.suppliers,
        inputs.offers,
        inputs.pars,
        inputs.policy,
        inputs.approved_value,
        inputs.used_before,
        inputs.sale_prices,
        sorted(inputs.used_today.items()),
    ):
        digest.update(_stable(part).encode())
    for frame in (inputs.history.sales, inputs.history.usage):
        digest.update(pd.util.hash_pandas_object(frame, index=False).to_numpy().tobytes())
    return digest.hexdigest()


def _stable(value: object) -> str:
    """Like ``repr``, with sets in order."""
    if isinstance(value, frozenset | set):
        return f"{{{', '.join(sorted(map(_stable, value)))}}}"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_stable(k)}: {_stable(v)}' for k, v in value.items())}}}"
    if isinstance(value, tuple | list):
        return f"({', '.join(map(_stable, value))})"
    if hasattr(value, "__dataclass_fields__"):
        inner = (f"{name}={_stable(getattr(value, name))}" for name in value.__dataclass_fields__)
        return f"{type(value).__name__}({', '.join(inner)})"
    return repr(value)
