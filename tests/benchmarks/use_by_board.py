"""``python -m pytest -m benchmark tests/benchmarks/use_by_board.py -s``: the use-by board with
100,000 lots at risk on the shelf beside the same board with 1,000, as a ratio in one run.

Rows are written in bulk, past the services, since the page only reads.
"""

from __future__ import annotations

import time
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone

from inventory.models import Item, Location, Lot, OnHand
from inventory.services.lots import new_lots
from purchasing.models import LotRisk, UseByLook
from tests import factories as make

FEW, MANY = 1_000, 100_000
AT_ONCE = 5_000
TIMES = 5
MOST = 2.0


def fill(look: UseByLook, place: Location, items: list[Item], first: int, count: int) -> None:
    """Lots ``first`` to ``count`` of the look, on the shelf and at risk."""
    today = timezone.now().date()
    for start in range(first, count, AT_ONCE):
        numbers = range(start, min(start + AT_ONCE, count))
        with transaction.atomic():
            lots = new_lots(
                [
                    Lot(
                        item=items[n % len(items)],
                        origin=Lot.Origin.RECEIPT,
                        received_on=today,
                        use_by=today + timedelta(days=n % 14),
                    )
                    for n in numbers
                ]
            )
            OnHand.objects.bulk_create(
                OnHand(lot=lot, item_id=lot.item_id, location=place, qty=1000) for lot in lots
            )
            LotRisk.objects.bulk_create(
                LotRisk(
                    look=look,
                    position=n,
                    lot=lot,
                    location=place,
                    expected=500,
                    chance=Decimal("0.5"),
                    cost=Decimal("0.004"),
                )
                for n, lot in zip(numbers, lots, strict=True)
            )
    newest = Lot.objects.latest("pk").pk
    UseByLook.objects.filter(pk=look.pk).update(newest_lot=newest)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def signed_in(place: Location | None) -> Client:
    client = Client()
    person = make.member("manager", place, sees_cost=True)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def seconds(client: Client) -> float:
    """The best of a few, in time of the processor."""
    best = float("inf")
    for _ in range(TIMES):
        start = time.process_time()
        answer = client.get("/use-by/")
        best = min(best, time.process_time() - start)
        assert answer.content.count(b'class="board"') == 40
    return best


@pytest.mark.benchmark
@pytest.mark.django_db
def test_the_board_does_not_slow_down_with_lots() -> None:
    place, items = make.location(), [make.item(may_freeze=True) for _ in range(50)]
    boards = {"every place": signed_in(place=None), "one place": signed_in(place=place)}
    now = timezone.now()
    look = UseByLook.objects.create(
        key="hour", asked_at=now, done_at=now, until=now.date() + timedelta(days=14)
    )
    fill(look, place, items, 0, FEW)
    few = {name: seconds(client) for name, client in boards.items()}
    fill(look, place, items, FEW, MANY)
    ratios = {name: seconds(client) / few[name] for name, client in boards.items()}
    for name, ratio in ratios.items():
        print(f"\n{name}: {few[name] * 1000:.0f} ms with {FEW:,}, x{ratio:.2f} with {MANY:,}")
    assert max(ratios.values()) < MOST
