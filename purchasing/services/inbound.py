"""Open order lines told to the kitchen as what is coming."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import QuerySet

from inventory.services.inbound import ROWS_AT_ONCE, Expected, expect
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.on_order import still_to_come


def tell_kitchen(orders: QuerySet[PurchaseOrder] | Collection[int]) -> None:
    """Inbound = open order lines of these orders; inside the act that changed them."""
    lines = OrderLine.objects.filter(order__in=orders).select_related("order__supplier", "item")
    expect(_expected(line) for line in lines.order_by("pk").iterator(ROWS_AT_ONCE))


def _expected(line: OrderLine) -> Expected:
    order: PurchaseOrder = line.order
    return Expected(
        source_key=f"order:{order.number}:{line.offer_id}",
        source=f"{order.supplier.name}, order {order.number}",
        item=line.item,
        location_id=order.location_id,
        due=line.due,
        qty=still_to_come(line) if order.is_coming else still_to_come(line) * 0,
    )
