"""``python -m pytest -m benchmark tests/benchmarks/pages.py -s``: every page on 100,000 lots and
20,000 orders beside the same page on 1,000 lots and 200 orders, as ratios in one run.

What is open stays what it is in a kitchen: history grows, the shelf does not. Rows are written
in bulk, past the services, since the pages only read.
"""

from __future__ import annotations

import time
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import transaction
from django.test import Client
from django.utils import timezone
from pytest_django import Settings

from inventory.models import Item, Location, Lot, Movement, OnHand
from inventory.services.lots import new_lots
from purchasing.models import Offer, OrderLine, PurchaseOrder
from tests import factories as make
from tests.site.map import PAGES, Scene, address, scene

SMALL, LARGE = (1_000, 200), (100_000, 20_000)
ITEMS, OPEN_LOTS, OPEN_ORDERS = 50, 300, 20
LINES = 5
TIMES = 3
MOST = 2.0
AT_ONCE = 5_000
# Files of all that there is: as long as that is.
WHOLE = ("workbook_out", "records")


def fill(place: Location, items: list[Item], lots: int, orders: int) -> None:
    """So many lots and orders more, nearly all of them long used up and settled."""
    offers = [make.offer(item=item) for item in items[:LINES]]
    for start in range(0, lots, AT_ONCE):
        _lots(place, items, min(AT_ONCE, lots - start))
    for start in range(0, orders, AT_ONCE):
        _orders(place, offers, min(AT_ONCE, orders - start))


def _lots(place: Location, items: list[Item], count: int) -> None:
    now = timezone.now()
    with transaction.atomic():
        made = new_lots(
            [
                Lot(
                    item=items[n % len(items)],
                    origin=Lot.Origin.RECEIPT,
                    received_on=now.date() - timedelta(days=n % 700),
                    use_by=now.date() - timedelta(days=n % 700 - 5),
                    unit_cost=Decimal("0.004"),
                )
                for n in range(count)
            ]
        )
        OnHand.objects.bulk_create(
            OnHand(lot=lot, item_id=lot.item_id, location=place, qty=Decimal(0)) for lot in made
        )
        Movement.objects.bulk_create(
            Movement(
                lot=lot,
                item_id=lot.item_id,
                location=place,
                qty=Decimal(sign) * 1000,
                kind=kind,
                happened_at=now - timedelta(days=400),
                recorded_at=now - timedelta(days=400),
            )
            for lot in made
            for sign, kind in ((1, Movement.Kind.RECEIPT), (-1, Movement.Kind.USAGE))
        )


def _orders(place: Location, offers: list[Offer], count: int) -> None:
    now = timezone.now()
    first = PurchaseOrder.objects.count()
    made = PurchaseOrder.objects.bulk_create(
        PurchaseOrder(
            number=f"OLD{first + n}",
            supplier=offers[0].supplier,
            location=place,
            delivery=now.date() - timedelta(days=10 + n % 700),
            status=PurchaseOrder.Status.RECEIVED,
            received_at=now - timedelta(days=10),
            approved_at=now - timedelta(days=12),
        )
        for n in range(count)
    )
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            offer=offer,
            item=offer.item,
            cases=2,
            received_cases=2,
            pack_qty=10,
            pack_unit="kg",
            pack_base=10000,
            price=12,
            priced_per="case",
            priced_units=1,
        )
        for order in made
        for offer in offers
    )


def seconds(client: Client, where: str) -> float:
    """The best of a few, in time of the processor."""
    best = float("inf")
    for _ in range(TIMES):
        start = time.process_time()
        answer = client.get(where, follow=True)
        if answer.streaming:
            b"".join(answer.streaming_content)  # type: ignore[attr-defined]
        best = min(best, time.process_time() - start)
        assert answer.status_code == 200, where
    return best


def _open(place: Location, items: list[Item]) -> Scene:
    now = timezone.now()
    for n in range(OPEN_LOTS):
        use_by = now.date() + timedelta(days=n % 12)
        make.lot(1000, at=place, of=items[n % ITEMS], use_by=use_by, when=now)
    for _ in range(OPEN_ORDERS):
        order = make.order(location=place, delivery=now.date())
        for _ in range(LINES):
            make.order_line(order)
    return scene(place)


@pytest.mark.benchmark
@pytest.mark.django_db
def test_a_page_does_not_feel_how_much_has_been(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    place = make.location()
    items = [make.item() for _ in range(ITEMS)]
    there = _open(place, items)
    client = Client()
    owner: User = make.member("owner", sees_cost=True)
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    shown = {name: one for name, one in PAGES.items() if name not in WHOLE}
    pages = {name: address(name, one, there) for name, one in shown.items()}
    fill(place, items, *SMALL)
    few = {name: seconds(client, where) for name, where in pages.items()}
    fill(place, items, LARGE[0] - SMALL[0], LARGE[1] - SMALL[1])
    many = {name: seconds(client, where) for name, where in pages.items()}
    for name in pages:
        ratio = many[name] / few[name]
        print(f"{name:>12}: {few[name] * 1000:6.1f} ms, {many[name] * 1000:6.1f} ms, x{ratio:.2f}")
    assert {name for name in pages if many[name] > MOST * few[name]} == set()
