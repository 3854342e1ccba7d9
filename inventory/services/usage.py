"""Use as people report it. It is never refused for lack of book stock: it is drawn from what
is there, first expired first, and what no lot covers becomes unexplained use."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db.models import Sum

from inventory.engine.fefo import LotOnHand, pick
from inventory.models import Item, Location, Lot, Movement, OnHand, UnexplainedUse
from inventory.problems import Problem, Refused
from inventory.selectors.business import business
from inventory.services.acts import one_act
from inventory.services.ledger import Entry, demand_transaction, post
from inventory.services.unexplained import explain, still_unexplained
from inventory.services.usable import Holds
from inventory.services.wording import amount

if TYPE_CHECKING:
    from django.contrib.auth.models import User

Key = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Use:
    """``qty`` (> 0) base units of an item used at a location. ``assumed``: drawn by recipe,
    not seen."""

    item: Item
    location: Location
    qty: Decimal
    happened_at: datetime
    reference: str = ""
    assumed: bool = True
    kind: Movement.Kind = Movement.Kind.USAGE


@dataclass(frozen=True, slots=True)
class Drawn:
    movements: list[Movement]
    unexplained: list[UnexplainedUse]


@one_act
def report_use(uses: Sequence[Use], *, by: User | None, at: datetime) -> Drawn:
    """Post what people say was used."""
    return draw(uses, by=by, at=at)


@one_act
def correct_use(use: Use, *, by: User | None, at: datetime) -> Drawn:
    """Less was used than reported: ``use.qty`` of what ``use.reference`` took is taken back,
    from what no lot covered first, then into the lots it was drawn from."""
    rows = still_unexplained([(use.item, use.location)])
    own = [row for row in rows if row.reference == use.reference]
    left = explain(own, use.qty, by_what="correction", at=at)
    entries = _given_back(use, left)
    if sum((entry.qty for entry in entries), Decimal(0)) < left:
        raise Refused(_never_used(use))
    return Drawn(post(entries, by=by, at=at), [])


def draw(uses: Sequence[Use], *, by: User | None, at: datetime) -> Drawn:
    """Draw in the order given; a step of a larger act, in a fixed number of queries for the
    reading and one for each lot drawn from."""
    demand_transaction()
    shelf = _Shelf(uses)
    entries: list[Entry] = []
    uncovered: list[UnexplainedUse] = []
    for use in uses:
        taken, left = shelf.take(use)
        entries += taken
        if left > 0:
            uncovered.append(_unexplained(use, left, by, at))
    movements = post(entries, by=by, at=at)
    return Drawn(movements, UnexplainedUse.objects.bulk_create(uncovered))


def cover_unexplained(
    gains: Sequence[Movement], *, by: User | None, at: datetime
) -> list[Movement]:
    """Goods that were there before a use, but were recorded after it, explain it: they are
    drawn as of then. A step of the act that recorded ``gains``."""
    dated = [(gain, gain.happened_at) for gain in gains if gain.happened_at is not None]
    rows = still_unexplained([(gain.item, gain.location) for gain, _ in dated])
    uses = [Use(row.item, row.location, row.qty, row.happened_at, row.reference) for row in rows]
    shelf = _Shelf(uses)
    entries: list[Entry] = []
    for row, use in zip(rows, uses, strict=True):
        before = {gain.lot_id for gain, since in dated if since <= row.happened_at}
        taken, left = shelf.take(use, before)
        entries += taken
        explain([row], use.qty - left, by_what=gains[0].reference, at=at)
    return post(entries, by=by, at=at) if entries else []


class _Shelf:
    """What may be drawn from at some locations; nobody else draws until this act has ended."""

    def __init__(self, uses: Sequence[Use]) -> None:
        self._house = business()
        rows = (
            OnHand.objects.select_for_update(of=("self",))
            .filter(
                location__in={use.location.pk for use in uses},
                item__in={use.item.pk for use in uses},
                qty__gt=0,
            )
            .select_related("lot__item")
            .order_by("lot_id", "location_id")
        )
        self._lots: dict[Key, dict[Hashable, Lot]] = defaultdict(dict)
        self._qty: dict[Key, Decimal] = {}
        for row in rows:
            self._lots[row.item_id, row.location_id][row.lot_id] = row.lot
            self._qty[row.lot_id, row.location_id] = row.qty
        self._holds = Holds(lot_id for lot_id, _ in self._qty)

    def take(self, use: Use, among: Set[int] | None = None) -> tuple[list[Entry], Decimal]:
        """Entries that cover the use, and what no lot covers. ``among``: lots to draw from."""
        free = [lot for lot in self._free(use) if among is None or lot.key in among]
        picked = pick(free, use.qty, self._house.day_of(use.happened_at))
        entries = []
        for one in picked.picks:
            lot = self._lots[use.item.pk, use.location.pk][one.key]
            self._qty[lot.pk, use.location.pk] -= one.qty
            entries.append(_entry(use, lot, -one.qty))
        return entries, picked.uncovered

    def _free(self, use: Use) -> Iterator[LotOnHand]:
        place = use.location.pk
        for lot in self._lots[use.item.pk, place].values():
            if not self._holds.on(lot.pk, place, use.happened_at):
                there = self._qty[lot.pk, place]
                yield LotOnHand(lot.pk, there, lot.use_by, lot.received_on, lot.strip)


def _entry(use: Use, lot: Lot, qty: Decimal) -> Entry:
    return Entry(
        use.kind,
        lot,
        use.location,
        qty,
        use.happened_at,
        reference=use.reference,
        assumed=use.assumed,
    )


def _unexplained(use: Use, qty: Decimal, by: User | None, at: datetime) -> UnexplainedUse:
    return UnexplainedUse(
        item=use.item,
        location=use.location,
        qty=qty,
        happened_at=use.happened_at,
        recorded_at=at,
        by=by,
        reference=use.reference,
    )


def _given_back(use: Use, qty: Decimal) -> list[Entry]:
    """Into the lots that the reference drew from, last drawn first."""
    drawn = (
        Movement.objects.filter(
            kind=use.kind, reference=use.reference, item=use.item, location=use.location
        )
        .values("lot")
        .annotate(net=Sum("qty"))
    )
    net = {row["lot"]: -row["net"] for row in drawn}
    entries = []
    for lot in Lot.objects.filter(pk__in=net).first_expired_first().reverse():
        back = min(qty, net[lot.pk])
        if back > 0:
            entries.append(_entry(use, lot, back))
            qty -= back
    return entries


def _never_used(use: Use) -> Problem:
    return Problem(
        "never_used",
        f"{use.reference} did not take {amount(use.item, use.qty)} of {use.item} at "
        f"{use.location}; take back what it took, or less.",
        "qty",
    )
