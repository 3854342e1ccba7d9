"""Holds: nothing on hold is used, sent or sold without a manager's word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import Max

from inventory.models import Hold, Location, Lot, Movement, OnHand, StorageArea
from inventory.problems import Problem, Refused
from inventory.services.acts import one_act
from inventory.services.ledger import demand_transaction
from inventory.services.log import note
from inventory.services.usable import USES
from inventory.services.wording import of_lot

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@one_act
def hold_lot(
    lot: Lot,
    *,
    location: Location | None = None,
    reason: Hold.Reason,
    note_text: str = "",
    by: User | None,
    at: datetime,
) -> list[Hold]:
    """Put a lot and all its parts on hold, at one location or everywhere (None).

    Lots that are on hold there already keep their hold; the new holds are returned.
    """
    return _hold([lot], location, reason, note_text, by, at)


@one_act
def hold_area(
    area: StorageArea,
    *,
    reason: Hold.Reason,
    note_text: str = "",
    by: User | None,
    at: datetime,
) -> list[Hold]:
    """Put everything kept in a storage area on hold at its location."""
    there = OnHand.objects.filter(location=area.location, qty__gt=0, lot__area=area)
    lots = list(Lot.objects.filter(pk__in=there.values("lot")).order_by("pk"))
    return _hold(lots, area.location, reason, note_text, by, at)


@one_act
def hold_location(
    location: Location,
    *,
    reason: Hold.Reason,
    note_text: str = "",
    by: User | None,
    at: datetime,
) -> list[Hold]:
    """Put everything that is at a place on hold there, such as all that is aboard a truck."""
    there = OnHand.objects.filter(location=location, qty__gt=0)
    lots = list(Lot.objects.filter(pk__in=there.values("lot")).order_by("pk"))
    return _hold(lots, location, reason, note_text, by, at)


@one_act
def release_hold(hold_id: int, *, why: str, by: User | None, at: datetime) -> Hold:
    """End a hold. Refused if it has ended already."""
    hold = Hold.objects.select_related("lot__item", "location").get(pk=hold_id)
    if not Hold.objects.still_open().filter(pk=hold_id).update(closed_at=at, closed_by=by):
        raise Refused(Problem("released_already", f"{of_lot(hold.lot)} was released already."))
    hold.refresh_from_db(fields=["closed_at", "closed_by"])
    changes = {"location": hold.location.code if hold.location else "", "why": why}
    note("release", f"lot:{hold.lot.strip}", by=by, at=at, changes=changes)
    return hold


def copy_holds(source: Lot, part: Lot) -> None:
    """A part of a lot on hold is on hold as well; called after the part has moved."""
    demand_transaction()
    Hold.objects.bulk_create(
        Hold(
            lot=part,
            location_id=hold.location_id,
            reason=hold.reason,
            note=hold.note,
            opened_at=hold.opened_at,
            opened_by=hold.opened_by,
        )
        for hold in Hold.objects.still_open().filter(lot=source).order_by("pk")
    )


def _hold(
    lots: Sequence[Lot],
    location: Location | None,
    reason: Hold.Reason,
    note_text: str,
    by: User | None,
    at: datetime,
) -> list[Hold]:
    held = _with_parts([lot.pk for lot in lots])
    known = Hold.objects.still_open().filter(lot__in=held, location=location)
    new = sorted(held - set(known.values_list("lot_id", flat=True)))
    opened = _after_what_was_drawn(new, at)
    holds = Hold.objects.bulk_create(
        Hold(
            lot=lot,
            location=location,
            reason=reason,
            note=note_text,
            opened_at=opened,
            opened_by=by,
        )
        for lot in Lot.objects.filter(pk__in=new).order_by("pk")
    )
    changes = {"location": location.code if location else "", "reason": str(reason)}
    for hold in holds:
        note("hold", f"lot:{hold.lot.strip}", by=by, at=at, changes=changes)
    return holds


def _with_parts(lot_ids: Iterable[int]) -> set[int]:
    """These lots and all their parts, none of which is drawn from until this act has ended."""
    roots, still = set(lot_ids), set[int]()
    while (found := _family(roots)) != still:
        still = found
        _keep_still(still)
    return still


def _family(lot_ids: set[int]) -> set[int]:
    found, level = set[int](), lot_ids
    while level:
        found |= level
        parts = Lot.objects.filter(parent__in=level)
        level = set(parts.values_list("pk", flat=True)) - found
    return found


def _keep_still(lot_ids: set[int]) -> None:
    # A draw changes on hand first and then looks for holds: one of the two sees the other.
    lots = Lot.objects.select_for_update(no_key=True).filter(pk__in=lot_ids).order_by("pk")
    list(lots.values_list("pk"))
    rows = OnHand.objects.select_for_update().filter(lot__in=lot_ids)
    list(rows.order_by("lot_id", "location_id").values_list("pk"))


def _after_what_was_drawn(lot_ids: list[int], at: datetime) -> datetime:
    """The moment from which a hold counts: what two people do at once has an order, even
    where their clocks say otherwise."""
    drawn = Movement.objects.filter(lot__in=lot_ids, kind__in=USES, qty__lt=0)
    last = drawn.aggregate(last=Max("happened_at"))["last"]
    return at if last is None or last < at else last + timedelta(microseconds=1)
