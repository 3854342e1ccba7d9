"""Taking out: waste, staff meals, tastings, donations, and known picks from one lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from inventory.models import Location, Lot, Movement
from inventory.services.acts import one_act
from inventory.services.ledger import Entry, post
from inventory.services.log import note
from inventory.services.usable import Permit

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class Known:
    """``qty`` (> 0) base units of a lot that somebody has in the hand or has scanned."""

    lot: Lot
    location: Location
    qty: Decimal
    happened_at: datetime
    reference: str = ""
    permit: Permit | None = None
    typed_qty: Decimal | None = None
    typed_unit: str = ""


@one_act
def take_out(known: Known, *, reason: str, waste: bool, by: User | None, at: datetime) -> Movement:
    """Not sold: thrown away, eaten, tasted or given away. Waste is always allowed, on hold
    and past use-by as well. Refused if there is not that much."""
    changes = {"location": known.location.code, "qty": str(known.qty), "why": reason}
    note("take_out", f"lot:{known.lot.strip}", by=by, at=at, changes=changes)
    return _post(known, Movement.Kind.TAKE_OUT, reason, waste, by, at)


@one_act
def use_from_lot(known: Known, *, by: User | None, at: datetime) -> Movement:
    """Used from this very lot. Refused if there is not that much, or if the lot is on hold or
    past use-by and no manager allowed it."""
    return _post(known, Movement.Kind.USAGE, "", False, by, at)


def _post(
    known: Known,
    kind: Movement.Kind,
    reason: str,
    waste: bool,
    by: User | None,
    at: datetime,
) -> Movement:
    entry = Entry(
        kind,
        known.lot,
        known.location,
        -known.qty,
        known.happened_at,
        known.reference,
        reason,
        waste=waste,
        typed_qty=known.typed_qty,
        typed_unit=known.typed_unit,
    )
    return post([entry], by=by, at=at, permit=known.permit)[0]
