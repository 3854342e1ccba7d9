"""Drafts and lots for tests of the plain page, around the present day."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.utils import timezone

from inventory.models import Location, Lot
from purchasing.models import PurchaseOrder
from tests import factories as make

REASONS = {
    "basis_used": "forecast",
    "target": "52.5",
    "raw_need": "40.5",
    "use_in_window": "41.2",
    "use_in_window_p90": "52.4",
    "unit": "kg",
}


def draft(place: Location, *, lines: int = 2) -> PurchaseOrder:
    """Due in six hours, for a delivery tomorrow that must last two days."""
    now = timezone.now()
    order = make.order(
        status="draft",
        location=place,
        delivery=now.date() + timedelta(days=1),
        next_delivery=now.date() + timedelta(days=3),
        order_by=now + timedelta(hours=6),
        decision="none_needed",
    )
    for _ in range(lines):
        make.order_line(order, reasons=REASONS)
    return order


def shelf_lot(place: Location, *, days_left: int = 1) -> Lot:
    """Five kilograms of something, at 4.00 a kilogram."""
    use_by = timezone.now().date() + timedelta(days=days_left)
    cost = Decimal("0.004")
    return make.lot(5000, at=place, of=make.item(), use_by=use_by, unit_cost=cost)
