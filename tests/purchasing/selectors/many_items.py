"""Kitchens of any number of items, with certain demand and stock for each."""

from __future__ import annotations

from django.utils import timezone

from inventory.exchange.book import TextSheet
from purchasing.exchange.workbook import load_sheets

AS_OF_TEXT = "2026-03-02T09:00"


def load_items(count: int) -> None:
    """``count`` items at one place, from four suppliers; four bookings and two lots each."""
    codes = [f"I{n:04}" for n in range(count)]
    suppliers = [f"S{n % 4}" for n in range(count)]
    sheets = {
        "settings": [{"key": "time_zone", "value": "Europe/London"}],
        "locations": [{"code": "COM", "name": "Yard kitchen", "kind": "commissary"}],
        "items": [
            {"code": c, "name": c, "kind": "ingredient", "unit": "kg", "shelf_life_days": "9"}
            for c in codes
        ],
        "suppliers": [
            {
                "code": f"S{n}",
                "name": f"Supplier {n}",
                "order_days": "mon;wed;fri",
                "cutoff": "14:00",
                "lead_days": "1",
                "delivery_days": "tue;thu;sat",
            }
            for n in range(4)
        ],
        "supplier_items": [
            {"supplier": s, "item": c, "pack_qty": "5", "pack_unit": "kg", "price": "9.5"}
            for c, s in zip(codes, suppliers, strict=True)
        ],
        "bookings": [
            {"location": "COM", "date": f"2026-03-0{day}", "item": c, "qty": "3", "unit": "kg"}
            for c in codes
            for day in (3, 4, 5, 6)
        ],
        "stock": [
            {"location": "COM", "item": c, "qty": "2", "unit": "kg", "lot": lot, "use_by": use_by}
            for c in codes
            for lot, use_by in ((f"{c}A", "2026-03-04"), (f"{c}B", "2026-03-07"))
        ],
    }
    load_sheets(
        [TextSheet(name, rows) for name, rows in sheets.items()], by=None, at=timezone.now()
    )
