"""Goods on their way between locations."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db.models import Q, Sum

from inventory.engine import kitchen as engine
from inventory.models import Transfer, TransferLine
from inventory.selectors.stops import stop_key


def coming(today: date) -> tuple[engine.Coming, ...]:
    """What was sent and has not arrived counts like an order on its way, in one query.

    Load-outs for a stop still to come are told apart: they replace the planned ones.
    """
    rows = (
        TransferLine.objects.filter(
            transfer__sent_at__isnull=False, transfer__arrived_at__isnull=True
        )
        .exclude(transfer__kind=Transfer.Kind.LOAD_OUT, transfer__stop__date__gte=today)
        .select_related("transfer__target", "lot__item")
        .order_by("transfer__number", "lot__strip")
    )
    return tuple(
        engine.Coming(
            location=row.transfer.target.code,
            item=row.lot.item.code,
            day=max(row.transfer.leaves_on, today),
            qty=float(row.sent),
            use_by=row.lot.use_by,
            late=row.transfer.leaves_on < today,
            reference=row.transfer.number,
        )
        for row in rows
    )


def load_outs_from(today: date) -> tuple[engine.LoadOut, ...]:
    """Load-outs sent for stops from ``today`` on; they replace the planned ones. What has
    arrived is aboard already and counts there."""
    transfers = (
        Transfer.objects.filter(
            kind=Transfer.Kind.LOAD_OUT, sent_at__isnull=False, stop__date__gte=today
        )
        .select_related("stop__location")
        .order_by("number")
    )
    keys = {row.pk: stop_key(row.stop) for row in transfers if row.stop}
    lines = (
        TransferLine.objects.filter(transfer__in=keys)
        .values_list("transfer_id", "lot__item__code")
        .annotate(
            total=Sum("sent", filter=Q(transfer__arrived_at__isnull=True), default=Decimal(0))
        )
        .order_by("transfer__number", "lot__item__code")
    )
    return tuple(engine.LoadOut(keys[pk], item, float(total)) for pk, item, total in lines)
