"""Writing drafts: what a run would order, beside what people did to earlier drafts (R15)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.db import models

from inventory.engine.units import as_decimal
from inventory.models import Location
from inventory.selectors.measures import Measures
from purchasing.models import Offer, OrderLine, PurchaseOrder, ReorderRun, Supplier
from purchasing.selectors.supply import case_base

DraftKey = tuple[str, str, date]  # supplier, location, delivery
OfferKey = tuple[str, str, str]  # supplier, item, sku


@dataclass(frozen=True, slots=True)
class WantedLine:
    """A line as the run would order it; quantities exact, reasons as texts."""

    item: str
    sku: str
    cases: int
    pack_qty: Decimal
    pack_unit: str
    price: Decimal
    priced_per: str
    priced_units: Decimal
    reasons: dict[str, object]


@dataclass(frozen=True, slots=True)
class WantedOrder:
    supplier: str
    location: str
    delivery: date
    next_delivery: date
    order_by: datetime
    last_order_by: datetime
    decision: str
    lines: tuple[WantedLine, ...]
    weighed: dict[str, object] | None = None

    @property
    def key(self) -> DraftKey:
        return self.supplier, self.location, self.delivery


class DraftWriter:
    """Brings the drafts in line with a run. Untouched lines follow; touched lines keep the
    person's cases with ours beside them; an emptied draft goes unless it was touched. What
    would not change is not written: no row, not even a time stamp."""

    def __init__(
        self, run: Callable[[], ReorderRun], measures: Measures, *, at: datetime, today: date
    ) -> None:
        self._run = run
        self._measures = measures
        self._at = at
        self._today = today
        drafts = PurchaseOrder.objects.drafts().select_for_update(of=("self",)).order_by("pk")
        self._drafts = {
            (draft.supplier.code, draft.location.code, draft.delivery): draft
            for draft in drafts.select_related("supplier", "location")
        }
        self._lines = _lines_of(self._drafts.values())
        self._offers = _offers()
        self._offers_by_id = {offer.pk: offer for offer in self._offers.values()}
        self._numbers = Numbers()

    def write(self, wanted: Iterable[WantedOrder], in_scope: Callable[[str, str], bool]) -> None:
        """``in_scope`` says of supplier and location whether this run may change its drafts."""
        orders = {order.key: order for order in wanted if in_scope(order.supplier, order.location)}
        for key in sorted(orders):
            self._write_order(orders[key])
        for key, draft in sorted(self._drafts.items()):
            if key not in orders and in_scope(key[0], key[1]) and not self._stays(draft):
                self._empty(draft)

    def _stays(self, draft: PurchaseOrder) -> bool:
        """A draft whose cutoff is past stays until its delivery day is over: until then
        something can still be done. So does one that a person skipped."""
        if draft.skipped_at is not None:
            return draft.delivery >= self._today
        closes = draft.last_order_by or draft.order_by
        return closes is not None and closes < self._at and draft.delivery >= self._today

    def _write_order(self, order: WantedOrder) -> None:
        draft = self._drafts.get(order.key)
        if draft is not None and draft.skipped_at is not None:
            return  # a person let this delivery pass
        if draft is None:
            if order.lines:
                self._create(order)
            return
        changed = self._change_lines(draft, order)
        head = self._change_head(draft, order)
        if changed or head:
            draft.run = self._run()
            draft.version += 1
            draft.save(update_fields=[*head, "run", "version"])
        self._drop_if_empty(draft)

    def _create(self, order: WantedOrder) -> None:
        supplier = Supplier.objects.get(code=order.supplier)
        location = Location.objects.get(code=order.location)
        draft = PurchaseOrder.objects.create(
            number=self._numbers.next(order.supplier, order.delivery),
            supplier=supplier,
            location=location,
            delivery=order.delivery,
            adds_to=_earlier_order(supplier, location, order.delivery),
            run=self._run(),
            **_head(order),
        )
        OrderLine.objects.bulk_create(self._new_line(draft, line) for line in order.lines)

    def _change_head(self, draft: PurchaseOrder, order: WantedOrder) -> list[str]:
        return _assign(draft, _head(order))

    def _change_lines(self, draft: PurchaseOrder, order: WantedOrder) -> bool:
        wanted = {
            self._offers[order.supplier, line.item, line.sku].pk: line for line in order.lines
        }
        present = self._lines.get(draft.pk, {})
        new = [self._new_line(draft, line) for pk, line in wanted.items() if pk not in present]
        OrderLine.objects.bulk_create(new)
        changed = [self._follow(line, wanted.get(pk)) for pk, line in present.items()]
        return bool(new) or any(changed)

    def _follow(self, line: OrderLine, wanted: WantedLine | None) -> bool:
        """Whether the line was changed."""
        if wanted is None:
            if line.touched:
                return _save(line, {"our_cases": 0})
            line.delete()
            return True
        facts = self._facts(wanted, self._offers_by_id[line.offer_id])
        if line.touched:
            facts.pop("cases")
        return _save(line, facts)

    def _new_line(self, draft: PurchaseOrder, wanted: WantedLine) -> OrderLine:
        offer = self._offers[draft.supplier.code, wanted.item, wanted.sku]
        return OrderLine(order=draft, offer=offer, item=offer.item, **self._facts(wanted, offer))

    def _facts(self, line: WantedLine, offer: Offer) -> dict[str, Any]:
        return {
            "cases": line.cases,
            "our_cases": line.cases,
            "pack_qty": line.pack_qty,
            "pack_unit": line.pack_unit,
            "pack_base": as_decimal(case_base(offer, self._measures)),
            "price": line.price,
            "priced_per": line.priced_per,
            "priced_units": line.priced_units,
            "reasons": line.reasons,
        }

    def _empty(self, draft: PurchaseOrder) -> None:
        for line in self._lines.get(draft.pk, {}).values():
            self._follow(line, None)
        self._drop_if_empty(draft)

    def _drop_if_empty(self, draft: PurchaseOrder) -> None:
        if not draft.touched and not draft.lines.exists():
            draft.delete()


class Numbers:
    """Numbers of new orders: supplier, delivery day and count, such as S1-20260304-2."""

    def __init__(self) -> None:
        self._last: dict[tuple[str, date], int] = {}

    def next(self, supplier: str, delivery: date) -> str:
        key = supplier, delivery
        if key not in self._last:
            self._last[key] = self._highest(f"{supplier}-{delivery:%Y%m%d}-")
        self._last[key] += 1
        return f"{supplier}-{delivery:%Y%m%d}-{self._last[key]}"

    @staticmethod
    def _highest(prefix: str) -> int:
        taken = PurchaseOrder.objects.filter(number__startswith=prefix)
        counts = [number[len(prefix) :] for number in taken.values_list("number", flat=True)]
        return max((int(count) for count in counts if count.isdigit()), default=0)


def _lines_of(drafts: Iterable[PurchaseOrder]) -> dict[int, dict[int, OrderLine]]:
    """Lines by order and offer."""
    found: dict[int, dict[int, OrderLine]] = {}
    for line in OrderLine.objects.filter(order__in=[draft.pk for draft in drafts]).order_by("pk"):
        found.setdefault(line.order_id, {})[line.offer_id] = line
    return found


def _offers() -> dict[OfferKey, Offer]:
    rows = Offer.objects.select_related("supplier", "item")
    return {(row.supplier.code, row.item.code, row.sku): row for row in rows}


def _earlier_order(supplier: Supplier, location: Location, delivery: date) -> PurchaseOrder | None:
    """The order that a further draft for the same delivery adds to."""
    sent = PurchaseOrder.objects.on_order().filter(
        supplier=supplier, location=location, delivery=delivery
    )
    return sent.order_by("pk").last()


def _head(order: WantedOrder) -> dict[str, Any]:
    return {
        "next_delivery": order.next_delivery,
        "order_by": order.order_by.astimezone(UTC),
        "last_order_by": order.last_order_by.astimezone(UTC),
        "decision": order.decision,
        "weighed": order.weighed,
    }


def _assign(row: models.Model, facts: dict[str, Any]) -> list[str]:
    """Set what differs; returns the fields that did."""
    changed = [name for name, value in facts.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, facts[name])
    return changed


def _save(row: models.Model, facts: dict[str, Any]) -> bool:
    changed = _assign(row, facts)
    if changed:
        row.save(update_fields=changed)
    return bool(changed)
