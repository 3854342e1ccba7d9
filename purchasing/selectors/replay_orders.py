"""Orders on their way when a replay begins, and what really came on its days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.db.models import Q, QuerySet

from inventory.models import Movement
from inventory.selectors.business import Business
from purchasing.engine.inputs import Supplier
from purchasing.engine.replay_inputs import ONE, Arrival, Pair, ReplayLine, billionths
from purchasing.models import OrderLine, PurchaseOrder, ReceiptLine

RECORDED = "recorded"
_EVER_OPEN = [
    PurchaseOrder.Status.APPROVED,
    PurchaseOrder.Status.SENT,
    PurchaseOrder.Status.RECEIVED,
    PurchaseOrder.Status.SETTLED,
]


def open_at(moment: datetime, first: date) -> QuerySet[OrderLine]:
    """Lines of orders that were open at ``moment`` and due on or after ``first``, whatever
    became of them since."""
    approved = Q(order__approved_at__isnull=True) | Q(order__approved_at__lt=moment)
    not_in = Q(order__received_at__isnull=True) | Q(order__received_at__gte=moment)
    return (
        OrderLine.objects.filter(
            approved, not_in, order__status__in=_EVER_OPEN, order__delivery__gte=first
        )
        .select_related("order__supplier", "order__location", "item", "offer")
        .order_by("order__delivery", "order__number", "item__code", "offer__sku")
    )


def came_since(moment: datetime) -> dict[int, Decimal]:
    """Cases received from ``moment`` on, by order line."""
    rows = ReceiptLine.objects.filter(
        receipt__happened_at__gte=moment, receipt__undone_at__isnull=True, order_line__isnull=False
    )
    found: dict[int, Decimal] = defaultdict(Decimal)
    for line, cases in rows.values_list("order_line_id", "accepted"):
        if line is not None:
            found[line] += cases
    return found


def on_its_way(line: OrderLine, since: Decimal) -> Arrival:
    """What was still to come of a line of ``open_at``, of which ``since`` cases came in the
    days replayed; at the price written on it."""
    expected = line.cases if line.confirmed_cases is None else line.confirmed_cases
    cases = max(Decimal(0), expected - (line.received_cases - since) - line.given_up_cases)
    price = line.price * line.priced_units
    return Arrival(
        location=line.order.location.code,
        item=line.item.code,
        day=line.order.delivery,
        qty=billionths(Fraction(cases * line.pack_base)),
        unit_cost=Fraction(price) / Fraction(line.pack_base),
        supplier=line.order.supplier.code,
        sku=line.offer.sku,
        order=line.order.number,
        cases=Fraction(cases),
        case_price=Fraction(price),
    )


def recorded(
    lines: Mapping[Pair, ReplayLine],
    suppliers: Mapping[str, Supplier],
    house: Business,
    window: tuple[datetime, datetime],
) -> tuple[Arrival, ...]:
    """What came in ``window``, less what was taken back again; each lot on the day on which it
    came, as if ordered that morning: when it really was plays no part. Three queries."""
    rows = Movement.objects.filter(
        kind=Movement.Kind.RECEIPT, happened_at__gte=window[0], happened_at__lt=window[1]
    )
    lots: dict[tuple[int, str], list[Movement]] = defaultdict(list)
    for row in rows.select_related("lot__item", "location").order_by("happened_at", "pk"):
        lots[row.lot_id, row.location.code].append(row)
    whence = _order_lines({lot for lot, _ in lots})
    came = [
        _arrival(moved, line, whence.get(lot), house)
        for (lot, place), moved in lots.items()
        if (line := lines.get((place, moved[0].lot.item.code))) is not None
    ]
    return tuple(_with_fees([one for one in came if one.qty > 0], suppliers))


def _order_lines(lots: Iterable[int]) -> dict[int, OrderLine]:
    """The order line behind each lot, where there was one."""
    rows = ReceiptLine.objects.filter(lot__in=list(lots), order_line__isnull=False)
    related = rows.select_related("order_line__offer__supplier", "order_line__order")
    return {row.lot_id: row.order_line for row in related if row.lot_id and row.order_line}


def _arrival(
    moved: list[Movement], line: ReplayLine, ordered: OrderLine | None, house: Business
) -> Arrival:
    lot, first = moved[0].lot, moved[0].happened_at
    assert first is not None  # only opening balances have no moment
    day = house.day_of(first)
    qty = billionths(Fraction(sum(one.qty for one in moved)))
    usual = line.first_rank_cost(day) or Fraction(0)
    unit_cost = usual if lot.unit_cost is None else Fraction(lot.unit_cost)
    case = billionths(Fraction(ordered.pack_base)) if ordered else line.offers[0].case
    return Arrival(
        location=line.location,
        item=line.item,
        day=day,
        qty=qty,
        unit_cost=unit_cost,
        supplier=ordered.offer.supplier.code if ordered else "",
        sku=ordered.offer.sku if ordered else "",
        order=ordered.order.number if ordered else moved[0].reference,
        cases=Fraction(qty, case),
        case_price=unit_cost * case / ONE,
        decision=RECORDED,
        placed=day,
    )


def _with_fees(came: Iterable[Arrival], suppliers: Mapping[str, Supplier]) -> Iterator[Arrival]:
    """The fee of a supplier without a minimum is due on every delivery; whether one with a
    minimum was paid is not on record."""
    deliveries: dict[tuple[str, str, date], list[Arrival]] = defaultdict(list)
    for one in came:
        deliveries[one.supplier, one.location, one.day].append(one)
    for (code, _, _), together in deliveries.items():
        supplier = suppliers.get(code)
        due = supplier is not None and not supplier.minimum_order
        fee = Fraction(supplier.delivery_fee) if supplier and due else Fraction(0)
        yield from (replace(one, fee=fee / len(together)) for one in together)
