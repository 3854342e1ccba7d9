"""Unexplained use: reported, but covered by no lot, until something explains it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal

from inventory.models import Item, Location, UnexplainedUse
from inventory.services.ledger import demand_transaction


def still_unexplained(pairs: Iterable[tuple[Item, Location]]) -> list[UnexplainedUse]:
    """Open rows of these items at these places, oldest first; nobody else clears them until
    this act has ended."""
    demand_transaction()
    wanted = {(item.pk, location.pk) for item, location in pairs}
    rows = (
        UnexplainedUse.objects.select_for_update(of=("self",))
        .filter(
            cleared_at__isnull=True,
            item__in={item for item, _ in wanted},
            location__in={location for _, location in wanted},
        )
        .select_related("item", "location")
        .order_by("happened_at", "pk")
    )
    return [row for row in rows if (row.item_id, row.location_id) in wanted]


def explain(rows: Iterable[UnexplainedUse], qty: Decimal, *, by_what: str, at: datetime) -> Decimal:
    """Clear up to ``qty`` base units, oldest first; what is left of ``qty``. Of a row that is
    explained in part, the rest stays open."""
    for row in rows:
        part = min(qty, row.qty)
        if part <= 0:
            break
        if part < row.qty:
            _explain_part(row, part, by_what, at)
        else:
            row.cleared_at, row.cleared_by = at, by_what
            row.save(update_fields=["cleared_at", "cleared_by"])
        qty -= part
    return qty


def _explain_part(row: UnexplainedUse, part: Decimal, by_what: str, at: datetime) -> None:
    UnexplainedUse.objects.create(
        item_id=row.item_id,
        location_id=row.location_id,
        qty=part,
        happened_at=row.happened_at,
        recorded_at=row.recorded_at,
        by_id=row.by_id,
        reference=row.reference,
        cleared_at=at,
        cleared_by=by_what,
    )
    row.qty -= part
    row.save(update_fields=["qty"])
