"""Counts: what was found against what the book says, posted as differences."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db.models import Sum

from inventory.models import Location, Lot, Movement, OnHand
from inventory.services.acts import one_act
from inventory.services.ledger import Entry, post
from inventory.services.unexplained import explain, still_unexplained

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class Counted:
    """``qty`` (0 or more) base units of a lot were found at a location."""

    lot: Lot
    location: Location
    qty: Decimal
    typed_qty: Decimal | None = None
    typed_unit: str = ""


@one_act
def post_count(
    lines: Sequence[Counted],
    *,
    reference: str,
    counted_at: datetime,
    by: User | None,
    at: datetime,
) -> list[Movement]:
    """Post the differences to the book as it stood when it was counted, and settle what was
    unexplained before. Refused if later draws took what the count says was not there."""
    entries = [entry for entry in _differences(lines, reference, counted_at) if entry.qty]
    movements = post(entries, by=by, at=at)
    rows = still_unexplained((line.lot.item, line.location) for line in lines)
    for row in rows:
        if row.happened_at <= counted_at:
            explain([row], row.qty, by_what=reference, at=at)
    return movements


def _differences(lines: Sequence[Counted], reference: str, counted_at: datetime) -> Iterable[Entry]:
    book = _book_at(lines, counted_at)
    for line in lines:
        yield Entry(
            Movement.Kind.COUNT,
            line.lot,
            line.location,
            line.qty - book[line.lot.pk, line.location.pk],
            counted_at,
            reference,
            typed_qty=line.typed_qty,
            typed_unit=line.typed_unit,
        )


def _book_at(lines: Sequence[Counted], moment: datetime) -> dict[tuple[int, int], Decimal]:
    """What the ledger says was there at ``moment``; nobody changes it until this act ends."""
    lots = {line.lot.pk for line in lines}
    rows = OnHand.objects.select_for_update().filter(lot__in=lots).order_by("lot_id", "location_id")
    book: dict[tuple[int, int], Decimal] = defaultdict(Decimal)
    for lot_id, location_id, qty in rows.values_list("lot_id", "location_id", "qty"):
        book[lot_id, location_id] = qty
    later = Movement.objects.filter(lot__in=lots, happened_at__gt=moment)
    for lot_id, location_id, moved in later.values_list("lot_id", "location_id").annotate(
        moved=Sum("qty")
    ):
        book[lot_id, location_id] -= moved
    return book
