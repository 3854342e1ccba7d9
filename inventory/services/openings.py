"""Opening balances: the state before the first movement, loaded once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db.models import Q, Sum

from inventory.models import Hold, Item, Location, Lot, Movement, StorageArea
from inventory.problems import Problem, Refused
from inventory.services.ledger import Entry, demand_transaction, post
from inventory.services.lots import lock_strips, new_lots
from inventory.services.wording import amount

if TYPE_CHECKING:
    from django.contrib.auth.models import User

ROWS_AT_ONCE = 1000
REFERENCE = "opening"


@dataclass(frozen=True, slots=True)
class Opening:
    """One lot at one location. ``key`` (up to 200 characters) finds it again at the next load;
    ``qty`` is in base units, 0 or more; ``hold`` puts the lot on hold wherever it is."""

    key: str
    item: Item
    location: Location
    qty: Decimal
    supplier_lot: str = ""
    received_on: date | None = None
    use_by: date | None = None
    unit_cost: Decimal | None = None
    area: StorageArea | None = None
    state: str = ""
    hold: Hold.Reason | None = None
    hold_note: str = ""
    typed_qty: Decimal | None = None
    typed_unit: str = ""


def post_openings(openings: Sequence[Opening], *, by: User | None, at: datetime) -> int:
    """Make the lots that are not there yet; returns how many. A step of a larger act.

    One that is there with the same quantity changes nothing, with another it is refused. The
    number of queries is that of ``openings`` / 1000, times a constant.
    """
    demand_transaction()
    if not openings:
        return 0
    lock_strips()  # a load at the same time is waited for, and then seen
    made = 0
    for start in range(0, len(openings), ROWS_AT_ONCE):
        made += _post_some(openings[start : start + ROWS_AT_ONCE], by, at)
    return made


def opening_problems(openings: Sequence[Opening]) -> Iterator[tuple[Opening, Problem]]:
    """What ``post_openings`` would refuse, beside the row at fault."""
    for start in range(0, len(openings), ROWS_AT_ONCE):
        some = openings[start : start + ROWS_AT_ONCE]
        yield from _differing(some, known_openings([opening.key for opening in some]))


def known_openings(keys: Sequence[str]) -> dict[str, Decimal]:
    """Quantity with which each known key was opened; the others are absent. One query."""
    opened = Q(movements__kind=Movement.Kind.OPENING, movements__reverses__isnull=True)
    rows = Lot.objects.filter(opening_key__in=keys).values_list("opening_key")
    return {
        key: qty
        for key, qty in rows.annotate(
            qty=Sum("movements__qty", filter=opened, default=Decimal(0))
        ).order_by("opening_key")
        if key is not None
    }


def _post_some(openings: Sequence[Opening], by: User | None, at: datetime) -> int:
    known = known_openings([opening.key for opening in openings])
    if problems := [problem for _, problem in _differing(openings, known)]:
        raise Refused(problems)
    new = [opening for opening in openings if opening.key not in known]
    lots = new_lots([_lot(opening) for opening in new])
    pairs = list(zip(new, lots, strict=True))
    post([_entry(opening, lot) for opening, lot in pairs if opening.qty], by=by, at=at)
    Hold.objects.bulk_create(
        [
            Hold(lot=lot, reason=opening.hold, note=opening.hold_note)
            for opening, lot in pairs
            if opening.hold
        ]
    )
    return len(new)


def _differing(
    openings: Sequence[Opening], known: Mapping[str, Decimal]
) -> Iterator[tuple[Opening, Problem]]:
    for opening in openings:
        before = known.get(opening.key, opening.qty)
        if before != opening.qty:
            yield opening, count_instead(opening, before)


def count_instead(opening: Opening, before: Decimal) -> Problem:
    """``before``: what is there in base units, instead of what the row says."""
    return Problem(
        "opened_already",
        f"{opening.item} at {opening.location} was opened with "
        f"{amount(opening.item, before)}, not {amount(opening.item, opening.qty)}. An opening "
        "balance is loaded once: count it instead.",
        "qty",
        {"key": opening.key, "before": str(before)},
    )


def _lot(opening: Opening) -> Lot:
    return Lot(
        item=opening.item,
        opening_key=opening.key,
        supplier_lot=opening.supplier_lot,
        received_on=opening.received_on,
        use_by=opening.use_by,
        unit_cost=opening.unit_cost,
        origin=Lot.Origin.OPENING,
        state=opening.state,
        area=opening.area,
    )


def _entry(opening: Opening, lot: Lot) -> Entry:
    return Entry(
        Movement.Kind.OPENING,
        lot,
        opening.location,
        opening.qty,
        happened_at=None,
        reference=REFERENCE,
        typed_qty=opening.typed_qty,
        typed_unit=opening.typed_unit,
    )
