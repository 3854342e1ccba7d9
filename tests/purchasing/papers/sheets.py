"""Orders on paper for tests."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from purchasing.papers.sheet import OrderSheet, Party, SheetLine

GLN = "0088", "7300010000001"


def line(number: int = 1, **facts: Any) -> SheetLine:
    """40 lb of beef, priced by the pound."""
    usual: dict[str, Any] = {
        "item": "Beef chuck",
        "sku": "1042",
        "gtin": "",
        "cases": 1,
        "pack": "40 lb",
        "price": Decimal("3.99"),
        "priced_per": "lb",
        "priced_units": Decimal(40),
    }
    return SheetLine(number, **{**usual, **facts})


def sheet(*lines: SheetLine, **facts: Any) -> OrderSheet:
    usual: dict[str, Any] = {
        "number": "PO-1001",
        "buyer": Party("Ladle & Leek", endpoint=GLN),
        "supplier": Party("Marsh Growers", "A-77", "orders@marsh.example", endpoint=GLN),
        "deliver_to": "Yard kitchen",
        "delivery": date(2026, 3, 4),
        "issued": datetime(2026, 3, 2, 6, 12),  # noqa: DTZ001  a wall clock
        "currency": "USD",
        "approved_by": "Ines",
    }
    return OrderSheet(**{**usual, **facts}, lines=lines or (line(),))
