"""What was on hand at a moment, and what of it was usable."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q, Sum

from inventory.engine import kitchen as engine
from inventory.models import Hold, Movement, OnHand


def stock_at(at: datetime, day: date) -> list[tuple[OnHand, Decimal]]:
    """On hand by lot and location: movements up to ``at``, opening balances always (R3).

    What moved after ``at`` is taken off what is there now, which reads few rows where the
    ledger is long. A lot received after ``day`` is not on hand. Two queries.
    """
    moves = Movement.objects.filter(happened_at__gt=at).values_list("lot_id", "location_id")
    later = {(lot, location): moved for lot, location, moved in moves.annotate(moved=Sum("qty"))}
    rows = (
        OnHand.objects.filter(Q(lot__received_on__isnull=True) | Q(lot__received_on__lte=day))
        .filter(Q(qty__gt=0) | Q(lot__in=moves.values("lot_id")))
        .select_related("lot", "item", "location")
        .order_by("location__code", "item__code", "lot__strip")
    )
    return [(row, row.qty - later.get((row.lot_id, row.location_id), Decimal(0))) for row in rows]


def usable_rows(at: datetime, day: date) -> list[tuple[OnHand, Decimal]]:
    """What of it is not on hold and not past use-by on ``day``. Three queries."""
    held = set(Hold.objects.open_at(at).values_list("lot_id", "location_id"))
    return [
        (row, qty)
        for row, qty in stock_at(at, day)
        if qty > 0
        and not {(row.lot_id, None), (row.lot_id, row.location_id)} & held
        and (row.lot.use_by is None or row.lot.use_by >= day)
    ]


def usable_stock(at: datetime, day: date) -> tuple[engine.StockLot, ...]:
    """Lots on hand at ``at`` that are not on hold and not past use-by on ``day``."""
    return tuple(
        engine.StockLot(
            location=row.location.code,
            item=row.item.code,
            qty=float(qty),
            use_by=row.lot.use_by,
            received=row.lot.received_on,
            strip=row.lot.strip,
        )
        for row, qty in usable_rows(at, day)
    )
