"""A commissary, a café and two suppliers, small enough to work out by hand.

Monday 2 March 2026, 09:00 in London. All demand is certain. GRO takes orders until 14:00 and
comes on Tuesday and again on Thursday; DRY until 16:00, on Tuesday and again on Friday.
Usable stock at the commissary: 2 kg of leeks. Needed on Wednesday: 12 kg of leeks and 25 kg
of lentils at the commissary, 7 kg of leeks at the café. Cases hold 5 kg of leeks, 10 kg of
lentils: 2 + 2 cases from GRO, 3 from DRY.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import UTC, date, datetime
from pathlib import Path

from django.utils import timezone

from inventory.exchange.book import TextSheet
from purchasing.exchange.workbook import load_sheets
from purchasing.models import PurchaseOrder
from purchasing.services.inbound import tell_kitchen
from tests.oracle.workbooks import write_folder

Sheets = dict[str, list[dict[str, str]]]

AS_OF_TEXT = "2026-03-02T09:00"
AS_OF = datetime(2026, 3, 2, 9, tzinfo=UTC)
TUESDAY = date(2026, 3, 3)

_CALENDAR = "order_days,cutoff,lead_days,delivery_days"


def _rows(header: str, *lines: str) -> list[dict[str, str]]:
    names = header.split(",")
    return [dict(zip(names, line.split(","), strict=True)) for line in lines]


_SHEETS: Sheets = {
    "settings": _rows("key,value", "business_name,Ladle & Leek", "time_zone,Europe/London"),
    "locations": _rows("code,name,kind", "COM,Yard kitchen,commissary", "CAFE,Café,kitchen"),
    "items": _rows(
        "code,name,kind,unit,shelf_life_days",
        "LEEK,Leeks,ingredient,kg,9",
        "LENTIL,Lentils,ingredient,kg,",
    ),
    "suppliers": _rows(
        f"code,name,{_CALENDAR}",
        "GRO,Marsh Growers,mon;wed;fri,14:00,1,tue;thu;sat",
        "DRY,Granary,mon;thu,16:00,1,tue;fri",
    ),
    "supplier_items": _rows(
        "supplier,item,pack_qty,pack_unit,price", "GRO,LEEK,5,kg,9.5", "DRY,LENTIL,10,kg,21"
    ),
    "pars": _rows(
        "location,item,basis", "COM,LEEK,forecast", "COM,LENTIL,forecast", "CAFE,LEEK,forecast"
    ),
    "bookings": _rows(
        "location,date,item,qty,unit,customer",
        "COM,2026-03-04,LEEK,12,kg,Harbour office",
        "COM,2026-03-04,LENTIL,25,kg,Harbour office",
        "CAFE,2026-03-04,LEEK,7,kg,Choir",
    ),
    "stock": _rows(
        "location,item,qty,unit,lot,received,use_by", "COM,LEEK,2,kg,L-1,2026-03-01,2026-03-08"
    ),
}


def sheets() -> Sheets:
    return deepcopy(_SHEETS)


def as_folder(folder: Path) -> Path:
    write_folder(sheets(), folder)
    return folder


def load(**changed: list[dict[str, str]]) -> None:
    """Load the kitchen, or only the sheets given."""
    raw = changed or sheets()
    load_sheets([TextSheet(name, rows) for name, rows in raw.items()], by=None, at=timezone.now())


def book(place: str, day: str, item: str, kilograms: int) -> None:
    """One booking more."""
    row = f"{place},{day},{item},{kilograms},kg,Rowing club"
    load(bookings=_rows("location,date,item,qty,unit,customer", row))


def approve(order: PurchaseOrder, at: datetime = AS_OF) -> None:
    """What approving leaves behind."""
    PurchaseOrder.objects.filter(pk=order.pk).update(
        status=PurchaseOrder.Status.APPROVED, approved_at=at, version=order.version + 1
    )
    tell_kitchen([order.pk])
