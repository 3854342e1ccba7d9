"""Everything about where a lot came from and where it went, from both apps.

A trace is whole or worth nothing, so who sees the lot sees all of it, at whatever place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet
from django.db.models.functions import Coalesce

from inventory.engine.trace import (
    Account,
    Fate,
    Link,
    Moved,
    Step,
    account,
    account_at_place,
    back,
    forward,
)
from inventory.models import (
    BatchInput,
    Hold,
    Location,
    Lot,
    Movement,
    OnHand,
    Stop,
    Transfer,
    TransferLine,
)
from inventory.selectors.business import business
from purchasing.models import ReceiptLine

_FATES = {
    Movement.Kind.OPENING: Fate.CAME,
    Movement.Kind.RECEIPT: Fate.CAME,
    Movement.Kind.MADE: Fate.CAME,
    Movement.Kind.BATCH_INPUT: Fate.USED_IN,
    Movement.Kind.USAGE: Fate.SOLD,
    Movement.Kind.TAKE_OUT: Fate.TAKEN_OUT,
    Movement.Kind.SENT: Fate.SENT,
    Movement.Kind.ARRIVED: Fate.ARRIVED,
    Movement.Kind.COUNT: Fate.COUNTED,
    Movement.Kind.SPLIT: Fate.SPLIT,
}


@dataclass(frozen=True, slots=True)
class Sold:
    """Sold or served at a place on a day; ``stops`` it had that day, as far as known."""

    place: Location
    day: date
    stops: tuple[Stop, ...]
    qty: Decimal


@dataclass(frozen=True, slots=True)
class TakenOut:
    place: Location
    why: str
    qty: Decimal


@dataclass(frozen=True, slots=True)
class Loaded:
    """A transfer that carried some of it; ``missing`` did not arrive."""

    transfer: Transfer
    qty: Decimal
    missing: Decimal


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Of one lot, or of a lot with its parts as one; base units."""

    account: Account
    places: tuple[tuple[Location, Account], ...]
    sold: tuple[Sold, ...]
    taken_out: tuple[TakenOut, ...]
    loads: tuple[Loaded, ...]


@dataclass(frozen=True, slots=True)
class Reached:
    """A lot on the way back or forward: ``qty`` of the source became (part of) the target."""

    level: int
    lot: Lot
    source: Lot
    qty: Decimal
    batch: str
    whereabouts: Whereabouts


@dataclass(frozen=True, slots=True)
class Trace:
    """``parts``: the lot's own parts, which its ``whereabouts`` take in. ``received``: receipt
    lines by lot, of every lot on the way back."""

    lot: Lot
    parts: tuple[Lot, ...]
    whereabouts: Whereabouts
    behind: tuple[Reached, ...]
    ahead: tuple[Reached, ...]
    received: Mapping[int, ReceiptLine]
    holds: tuple[Hold, ...]


def trace(lot: Lot) -> Trace:
    """A fixed number of queries, and three for each batch or part along the way."""
    links, lots = _links(lot)
    behind, ahead = back(lot.strip, links), forward(lot.strip, links)
    by_strip = {one.strip: one for one in lots.values()}
    ledger = _Ledger(lots)
    parts = _parts(lot, lots.values())
    touched = [lot.pk, *(by_strip[step.link.source].pk for step in behind)]
    holds = Hold.objects.still_open().filter(lot__in=lots).select_related("lot", "location")
    return Trace(
        lot=lot,
        parts=tuple(parts),
        whereabouts=ledger.of({lot.strip, *(part.strip for part in parts)}),
        behind=tuple(_reached(step, step.link.source, by_strip, ledger) for step in behind),
        ahead=tuple(_reached(step, step.link.target, by_strip, ledger) for step in ahead),
        received=receipt_lines(touched),
        holds=tuple(holds.order_by("pk")),
    )


def receipt_lines(lot_ids: Collection[int]) -> dict[int, ReceiptLine]:
    """By lot: the line on which it came; one query."""
    rows = ReceiptLine.objects.filter(lot__in=lot_ids).select_related(
        "receipt__supplier", "receipt__order", "receipt__location", "receipt__by"
    )
    return {row.lot_id: row for row in rows if row.lot_id is not None}


def _reached(step: Step, strip: str, lots: Mapping[str, Lot], ledger: _Ledger) -> Reached:
    return Reached(
        level=step.level,
        lot=lots[strip],
        source=lots[step.link.source],
        qty=step.link.qty,
        batch=step.link.batch,
        whereabouts=ledger.of({strip}),
    )


def _parts(lot: Lot, lots: Iterable[Lot]) -> list[Lot]:
    """Parts, and their parts, of the lot itself."""
    own, found = {lot.pk}, list[Lot]()
    for one in sorted(lots, key=lambda one: one.pk):  # a part is younger than what it is of
        if one.parent_id in own:
            own.add(one.pk)
            found.append(one)
    return found


def _links(lot: Lot) -> tuple[list[Link], dict[int, Lot]]:
    """Everything before and after the lot, and the lots themselves."""
    lots = {lot.pk: lot}
    found: dict[tuple[str, str, str], Link] = {}
    for towards in (_before, _after):
        level = {lot.pk}
        while level:
            reached = list(towards(level))
            fresh = {end.pk: end for _, end in reached if end.pk not in lots}
            lots |= fresh
            found |= {(one.source, one.target, one.batch): one for one, _ in reached}
            level = set(fresh)
    return list(found.values()), lots


def _before(level: Collection[int]) -> Iterable[tuple[Link, Lot]]:
    rows = BatchInput.objects.filter(batch__lot__in=level).order_by("pk")
    for row in rows.select_related("batch__lot", "lot__item"):
        assert row.batch.lot is not None
        yield Link(row.lot.strip, row.batch.lot.strip, row.qty, row.batch.reference), row.lot
    for part, qty in _parts_of(pk__in=level, parent__isnull=False):
        assert part.parent is not None
        yield Link(part.parent.strip, part.strip, qty), part.parent


def _after(level: Collection[int]) -> Iterable[tuple[Link, Lot]]:
    rows = BatchInput.objects.filter(lot__in=level, batch__lot__isnull=False).order_by("pk")
    for row in rows.select_related("batch__lot__item", "lot"):
        assert row.batch.lot is not None
        made = row.batch.lot
        yield Link(row.lot.strip, made.strip, row.qty, row.batch.reference), made
    for part, qty in _parts_of(parent__in=level):
        assert part.parent is not None
        yield Link(part.parent.strip, part.strip, qty), part


def _parts_of(**which: object) -> list[tuple[Lot, Decimal]]:
    parts = Lot.objects.filter(**which).select_related("item", "parent__item").order_by("pk")
    split = Movement.objects.filter(lot__in=parts, kind=Movement.Kind.SPLIT)
    came: dict[int, Decimal] = defaultdict(Decimal)
    for move in _standing(split).values("lot_id", "qty", "reference", "lot__strip"):
        if move["reference"] == f"split:{move['lot__strip']}":  # not on to parts of its own
            came[move["lot_id"]] += move["qty"]
    return [(part, came[part.pk]) for part in parts]


class _Ledger:
    """Movements of some lots that were not taken back, read once."""

    def __init__(self, lots: Mapping[int, Lot]) -> None:
        self._strips = {pk: lot.strip for pk, lot in lots.items()}
        moves = _standing(Movement.objects.filter(lot__in=lots)).order_by("happened_at", "pk")
        self._moves: Sequence[Movement] = list(moves.select_related("location"))
        lines = TransferLine.objects.filter(lot__in=lots, transfer__sent_at__isnull=False)
        self._lines: Sequence[TransferLine] = list(
            lines.select_related("transfer__source", "transfer__target").order_by("pk")
        )
        shelves = OnHand.objects.filter(lot__in=lots, qty__gt=0)
        self._shelves = list(shelves.values_list("lot_id", "location_id", "qty"))
        self._house = business()
        self._stops = self._stops_of_days()

    def of(self, strips: Collection[str]) -> Whereabouts:
        moves = [move for move in self._moves if self._strips[move.lot_id] in strips]
        lines = [line for line in self._lines if self._strips[line.lot_id] in strips]
        missing = sum((line.missing or Decimal(0) for line in lines), Decimal(0))
        open_lines = [line.sent for line in lines if line.transfer.arrived_at is None]
        there: dict[int, Decimal] = defaultdict(Decimal)
        for lot, place, qty in self._shelves:
            if self._strips[lot] in strips:
                there[place] += qty
        at: dict[int, list[Movement]] = defaultdict(list)
        places = {move.location_id: move.location for move in moves}
        for move in moves:
            at[move.location_id].append(move)
        return Whereabouts(
            account=account(
                map(self._moved, moves),
                missing=missing,
                on_hand=sum(there.values(), Decimal(0)),
                on_its_way=sum(open_lines, Decimal(0)),
            ),
            places=tuple(
                (place, account_at_place(map(self._moved, at[pk]), on_hand=there[pk]))
                for pk, place in sorted(places.items(), key=lambda pair: pair[1].code)
            ),
            sold=self._sold(moves),
            taken_out=_taken_out(moves),
            loads=tuple(
                Loaded(line.transfer, line.sent, line.missing or Decimal(0)) for line in lines
            ),
        )

    def _moved(self, move: Movement) -> Moved:
        fate = _FATES[Movement.Kind(move.kind)]
        return Moved(self._strips[move.lot_id], move.location.code, fate, move.qty)

    def _sold(self, moves: Iterable[Movement]) -> tuple[Sold, ...]:
        sums: dict[tuple[int, date], Decimal] = defaultdict(Decimal)
        places: dict[int, Location] = {}
        for move in moves:
            if move.kind == Movement.Kind.USAGE and move.happened_at is not None:
                sums[move.location_id, self._house.day_of(move.happened_at)] -= move.qty
                places[move.location_id] = move.location
        return tuple(
            Sold(places[pk], day, tuple(self._stops.get((pk, day), ())), qty)
            for (pk, day), qty in sums.items()
            if qty
        )

    def _stops_of_days(self) -> dict[tuple[int, date], list[Stop]]:
        used = [
            (move.location_id, self._house.day_of(move.happened_at))
            for move in self._moves
            if move.kind == Movement.Kind.USAGE and move.happened_at is not None
        ]
        stops = Stop.objects.filter(
            location__in={place for place, _ in used},
            date__in={day for _, day in used},
            cancelled=False,
        )
        found: dict[tuple[int, date], list[Stop]] = defaultdict(list)
        for stop in stops.order_by("date", "opens"):
            found[stop.location_id, stop.date].append(stop)
        return found


def _standing(rows: QuerySet[Movement]) -> QuerySet[Movement]:
    """Without what was taken back, and what took it back: together they are nothing."""
    # SQLite would look up "reverses is null" by its unique index, as if that found one row; it
    # finds nearly all of them
    named = rows.annotate(of_another=Coalesce("reverses_id", 0))
    return named.filter(of_another=0, reversed_by__isnull=True)


def _taken_out(moves: Iterable[Movement]) -> tuple[TakenOut, ...]:
    sums: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    places: dict[int, Location] = {}
    for move in moves:
        if move.kind == Movement.Kind.TAKE_OUT:
            sums[move.location_id, move.reason] -= move.qty
            places[move.location_id] = move.location
    return tuple(TakenOut(places[pk], why, qty) for (pk, why), qty in sums.items() if qty)


def lots_along(lot: Lot) -> set[int]:
    """The lot, all that went into it and all that was made of it."""
    return set(_links(lot)[1])
