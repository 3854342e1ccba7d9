"""One place, leeks by the case of 10 kg on Tuesdays and Fridays, 4 kg used a day for 90 days."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from inventory.models import Item, Location, Sale, Usage
from purchasing.models import Par, Price
from tests import factories as make

DAY = date(2026, 3, 4)  # a Wednesday
AT = datetime(2026, 3, 4, 9, tzinfo=UTC)
DAYS = 90


def kitchen(*, life: int | None = 9, par: str = "40") -> tuple[Location, Item]:
    place = make.location(code="MILL", name="Mill Lane")
    leek = make.item(code="LEEK", name="Leeks", unit="kg", shelf_life_days=life)
    sold = make.offer(item=leek, supplier=make.supplier(code="GRO", name="Growers"))
    Price.objects.create(offer=sold, price=Decimal(12))
    Par.objects.create(location=place, item=leek, par=Decimal(par), basis=Par.Basis.FIXED)
    use(place, leek)
    return place, leek


def use(place: Location, item: Item) -> None:
    Usage.objects.bulk_create(
        Usage(location=place, item=item, date=day, qty=Decimal(4), unit="kg") for day in past_days()
    )


def sell(place: Location, dish: Item, qty: int = 20) -> None:
    """More on Saturdays; sold out on one of them."""
    soup = [
        Sale(location=place, item=dish, date=day, qty=Decimal(qty * (1 + (day.weekday() == 5))))
        for day in past_days()
    ]
    saturday = next(row for row in reversed(soup) if row.date.weekday() == 5)
    saturday.sold_out_at = time(13)
    Sale.objects.bulk_create(soup)


def past_days() -> list[date]:
    return [DAY - timedelta(days=back) for back in range(DAYS, 0, -1)]
