"""What has been ordered and is not in yet (rules R4)."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Q, QuerySet

from inventory.engine import kitchen as engine
from inventory.engine.kitchen import Place
from purchasing.engine.inputs import Supplier
from purchasing.engine.slots import first_delivery_from
from purchasing.models import OrderLine, PurchaseOrder


def lines_on_order(at: datetime) -> QuerySet[OrderLine]:
    """Lines of orders approved, sent or partly in at ``at``; drafts never count."""
    approved = Q(order__approved_at__isnull=True) | Q(order__approved_at__lte=at)
    return (
        OrderLine.objects.filter(
            approved, order__status__in=[PurchaseOrder.Status.APPROVED, PurchaseOrder.Status.SENT]
        )
        .select_related("order__supplier", "order__location", "item", "offer")
        .order_by("order__delivery", "order__number", "item__code", "offer__sku")
    )


def open_cases(line: OrderLine) -> Decimal:
    """(confirmed cases, else ordered) - received - given up, never below 0."""
    expected = line.cases if line.confirmed_cases is None else line.confirmed_cases
    return max(Decimal(0), expected - line.received_cases - line.given_up_cases)


def cases_to_come(lines: Iterable[OrderLine]) -> Decimal:
    """What every page says is still to come of an order: of all its lines, whenever they are
    due."""
    return sum((open_cases(line) for line in lines), Decimal(0))


def still_to_come(line: OrderLine) -> Decimal:
    """Open cases times the pack, in base units."""
    return open_cases(line) * line.pack_base


def coming_orders(
    lines: list[OrderLine],
    suppliers: dict[str, Supplier],
    places: dict[str, Place],
    today: date,
) -> tuple[engine.Coming, ...]:
    """Open order lines as arrivals; what was due before ``today`` is taken on the supplier's
    first delivery day from ``today`` on, and marked late."""
    coming = (_coming(line, suppliers, places, today) for line in lines)
    return tuple(one for one in coming if one is not None)


def _coming(
    line: OrderLine, suppliers: dict[str, Supplier], places: dict[str, Place], today: date
) -> engine.Coming | None:
    qty, order = still_to_come(line), line.order
    if qty <= 0:
        return None
    supplier = suppliers.get(order.supplier.code)
    late = line.due < today
    day: date | None = line.due
    if late:
        place = places[order.location.code]
        day = first_delivery_from(today, supplier, place) if supplier else None
    if day is None:
        return None  # overdue from a supplier that has no delivery day here any more
    life = line.item.shelf_life_days
    return engine.Coming(
        location=order.location.code,
        item=line.item.code,
        day=day,
        qty=float(qty),
        use_by=None if life is None else day + timedelta(days=life),
        arrives=supplier.arrives if supplier else None,
        late=late,
        reference=order.number,
    )


def committed_value(lines: list[OrderLine]) -> dict[tuple[str, str, date], Decimal]:
    """Money already approved or later, by supplier, location and delivery day."""
    value: dict[tuple[str, str, date], Decimal] = defaultdict(Decimal)
    for line in lines:
        order = line.order
        cases = line.cases if line.confirmed_cases is None else line.confirmed_cases
        key = (order.supplier.code, order.location.code, order.delivery)
        value[key] += cases * line.price * line.priced_units
    return dict(value)


def orders_digest() -> str:
    """Changes whenever an order that is not a draft does, in any figure that R4 reads: a run
    that was worked out before such a change must not write its drafts."""
    rows = PurchaseOrder.objects.exclude(status=PurchaseOrder.Status.DRAFT).order_by("number")
    heads = rows.values_list("number", "status", "version", "delivery")
    lines = (
        OrderLine.objects.exclude(order__status=PurchaseOrder.Status.DRAFT)
        .order_by("pk")
        .values_list("pk", "cases", "confirmed_cases", "received_cases", "given_up_cases")
    )
    facts = repr((list(heads), list(lines)))
    return hashlib.sha256(facts.encode()).hexdigest()
