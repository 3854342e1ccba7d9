"""The ledger: the only writer of movements and of what is on hand.

``post`` and ``reverse`` are steps of a larger act: they demand an open transaction. A change
on hand is one conditional update without a read before it, so two people cannot draw the
same kilogram; rows are changed in one order, so two posts cannot wait for each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from typing import TYPE_CHECKING, Any

from django.db import connection, transaction
from django.db.models import F

from inventory.fields import Quantity, exact
from inventory.models import Location, Lot, Movement, OnHand
from inventory.problems import Problem, Refused
from inventory.services.acts import one_act
from inventory.services.usable import Permit, needed_permit
from inventory.services.wording import amount, of_lot

if TYPE_CHECKING:
    from django.contrib.auth.models import User

Kind = Movement.Kind

# Kinds of which a document keeps count: they are taken back together with it.
_BY_DOCUMENT = {
    Kind.RECEIPT: "Undo the receipt as a whole, on the day it was made; later, count the lot or "
    "take out what is not there, and say why.",
    Kind.SENT: "Call the load back, or send what came back as a return.",
    Kind.ARRIVED: "Undo the arrival of the whole load.",
    Kind.MADE: "Undo the batch as a whole.",
    Kind.BATCH_INPUT: "Undo the batch as a whole.",
}
_ROWS_AT_ONCE = 1000
_QUANTITY = Quantity()


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement to post. ``qty`` is in base units, negative: out.

    ``waste``: thrown away, which is always allowed. ``typed_qty`` and ``typed_unit``: what a
    person typed.
    """

    kind: Movement.Kind
    lot: Lot
    location: Location
    qty: Decimal
    happened_at: datetime | None
    reference: str = ""
    reason: str = ""
    assumed: bool = False
    waste: bool = False
    reverses: Movement | None = None
    typed_qty: Decimal | None = None
    typed_unit: str = ""

    @property
    def key(self) -> tuple[int, int]:
        return self.lot.pk, self.location.pk


def post(
    entries: Sequence[Entry],
    *,
    by: User | None,
    at: datetime,
    permit: Permit | None = None,
) -> list[Movement]:
    """Post movements and change what is on hand, all or nothing.

    ``at`` is when this is recorded. ``permit``: a manager's word for using lots on hold or
    past use-by. Raises ``Refused`` with every problem at once; queries do not grow with the
    number of lots that gain.
    """
    demand_transaction()
    if problems := list(_wrong_moments(entries, at)):
        raise Refused(problems)
    _change_on_hand(entries)
    permit = needed_permit(entries, permit)
    return Movement.objects.bulk_create(
        [_movement(entry, by, at, permit) for entry in entries], batch_size=_ROWS_AT_ONCE
    )


def demand_transaction() -> None:
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError(
            "Movements are posted inside the transaction of the act they belong to."
        )


def _wrong_moments(entries: Iterable[Entry], at: datetime) -> Iterator[Problem]:
    for entry in entries:
        if entry.happened_at is not None and entry.happened_at > at:
            yield Problem(
                "happens_later",
                f"{of_lot(entry.lot)}: this would happen at {entry.happened_at:%Y-%m-%d %H:%M} "
                "UTC, which is still to come. Post it when it has happened.",
                "happened_at",
            )


def _movement(entry: Entry, by: User | None, at: datetime, permit: Permit | None) -> Movement:
    return Movement(
        lot=entry.lot,
        item_id=entry.lot.item_id,
        location=entry.location,
        qty=entry.qty,
        kind=entry.kind,
        happened_at=entry.happened_at,
        recorded_at=at,
        by=by,
        reference=entry.reference,
        reason=entry.reason or (permit.reason if permit else ""),
        allowed_by=permit.by if permit else None,
        assumed=entry.assumed,
        reverses=entry.reverses,
        typed_qty=entry.typed_qty,
        typed_unit=entry.typed_unit,
    )


def _change_on_hand(entries: Iterable[Entry]) -> None:
    """Net change per lot and location, in the order of their keys."""
    changes: dict[tuple[int, int], Decimal] = defaultdict(Decimal)
    pairs: dict[tuple[int, int], Entry] = {}
    for entry in entries:
        changes[entry.key] += entry.qty
        pairs[entry.key] = entry
    short: list[Problem] = []
    ordered = [(pairs[key], change) for key, change in sorted(changes.items()) if change]
    for gains, run in groupby(ordered, key=lambda pair: pair[1] > 0):
        if gains:
            _add(list(run))
        else:
            short += [_too_little(*draw) for draw in run if not _take(*draw)]
    if short:
        raise Refused(short)


def _take(entry: Entry, change: Decimal) -> bool:
    there = OnHand.objects.filter(lot=entry.lot, location=entry.location, qty__gte=-change)
    return there.update(qty=F("qty") + exact(change)) == 1


def _add(gains: list[tuple[Entry, Decimal]]) -> None:
    table = connection.ops.quote_name(OnHand._meta.db_table)
    size = min(_ROWS_AT_ONCE, (connection.features.max_query_params or 4 * _ROWS_AT_ONCE) // 4)
    for start in range(0, len(gains), size):
        batch = gains[start : start + size]
        values: list[Any] = []
        for entry, qty in batch:
            scaled = _QUANTITY.get_prep_value(qty)
            values += [entry.lot.pk, entry.lot.item_id, entry.location.pk, scaled]
        rows = ", ".join(["(%s, %s, %s, %s)"] * len(batch))
        with connection.cursor() as cursor:
            cursor.execute(
                f"INSERT INTO {table} (lot_id, item_id, location_id, qty) VALUES {rows} "
                f"ON CONFLICT (lot_id, location_id) DO UPDATE SET qty = {table}.qty + excluded.qty",
                values,
            )


def _too_little(entry: Entry, change: Decimal) -> Problem:
    found = OnHand.objects.filter(lot=entry.lot, location=entry.location).first()
    there = found.qty if found else Decimal(0)
    item = entry.lot.item
    return Problem(
        "not_there",
        f"{of_lot(entry.lot)} at {entry.location}: {amount(item, there)} are there, not "
        f"{amount(item, -change)}. Take less, take it from another lot, or count the lot.",
        "qty",
        {"lot": entry.lot.strip, "there": str(there), "asked": str(-change)},
    )


@one_act
def reverse_movement(
    movement_id: int, *, reason: str, by: User | None, at: datetime
) -> list[Movement]:
    """Answer a mistake: post the opposite. A split is taken back with both its halves."""
    movement = Movement.objects.get(pk=movement_id)
    if advice := _BY_DOCUMENT.get(Kind(movement.kind)):
        raise Refused(
            Problem("belongs_to_document", f"It is part of {movement.reference}. {advice}")
        )
    together = [movement.pk]
    if movement.kind == Kind.SPLIT:
        halves = Movement.objects.filter(kind=Kind.SPLIT, reference=movement.reference)
        together = list(halves.filter(reverses__isnull=True).values_list("pk", flat=True))
    return reverse(together, reason=reason, by=by, at=at)


def reverse(
    movement_ids: Iterable[int], *, reason: str, by: User | None, at: datetime
) -> list[Movement]:
    """Post the opposite of these movements, as one. Refused if one is reversed already, is a
    reversal itself, or moved in what is no longer there."""
    demand_transaction()
    # The lock makes a second reversal wait and then see the first.
    movements = list(
        Movement.objects.select_for_update(of=("self",))
        .select_related("lot__item", "location")
        .filter(pk__in=list(movement_ids))
        .order_by("pk")
    )
    if problems := list(_not_reversible(movements)):
        raise Refused(problems)
    return post([_opposite(one, reason, at) for one in movements], by=by, at=at)


def _not_reversible(movements: list[Movement]) -> Iterator[Problem]:
    done = set(
        Movement.objects.filter(reverses__in=movements).values_list("reverses_id", flat=True)
    )
    for one in movements:
        if one.reverses_id is not None:
            yield Problem("is_reversal", f"{one} takes a mistake back; post it anew instead.")
        elif one.pk in done:
            yield Problem("reversed_already", f"{one} was reversed already; nothing to do.")


def _opposite(movement: Movement, reason: str, at: datetime) -> Entry:
    return Entry(
        kind=Kind(movement.kind),
        lot=movement.lot,
        location=movement.location,
        qty=-movement.qty,
        happened_at=at,
        reference=movement.reference,
        reason=reason,
        reverses=movement,
    )
