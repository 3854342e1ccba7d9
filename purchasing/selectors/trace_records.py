"""Traceability records as single events, read in portions: what was received, sent and made.

Every place counts as one of its own, so goods between own places are shipped and received
(the cautious reading). The code of a lot is its supplier's, whatever it is split into; what is
made here gets our strip number as its code (21 CFR 1.1320).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import TypeVar

from django.db.models import Model, Q, QuerySet, Sum

from inventory.engine.traceability import Event, Input, Kind, Source
from inventory.models import Batch, Lot, Movement, TransferLine
from inventory.selectors.business import Business, business
from inventory.selectors.measures import Measures, item_measures
from purchasing.models import ReceiptLine

_AT_ONCE = 500

Row = TypeVar("Row", bound=Model)
Record = tuple[Event, str]  # the event, and the strip number of its lot


def records_of(lot_ids: Collection[int]) -> Iterator[Record]:
    """Of these lots, whatever food they are."""
    teller = _Teller()
    yield from teller.received(ReceiptLine.objects.filter(lot__in=lot_ids))
    yield from teller.opened(Lot.objects.filter(pk__in=lot_ids))
    yield from teller.moved(TransferLine.objects.filter(lot__in=lot_ids))
    made = Batch.objects.filter(Q(lot__in=lot_ids) | Q(inputs__lot__in=lot_ids))
    yield from teller.made(made.distinct())


def records_between(first: date, last: date) -> Iterator[Record]:
    """Of listed foods, from ``first`` to ``last``, both included."""
    teller = _Teller()
    start, end = teller.moments(first, last)
    listed = Q(item__traceability_listed=True)
    came = ReceiptLine.objects.filter(receipt__happened_at__gte=start, receipt__happened_at__lt=end)
    yield from teller.received(came.filter(listed))
    yield from teller.opened(Lot.objects.filter(listed, received_on__range=(first, last)))
    lines = TransferLine.objects.filter(lot__item__traceability_listed=True)
    sent = Q(transfer__sent_at__gte=start, transfer__sent_at__lt=end)
    arrived = Q(transfer__arrived_at__gte=start, transfer__arrived_at__lt=end)
    yield from teller.moved(lines.filter(sent | arrived))
    batches = Batch.objects.filter(finished_at__gte=start, finished_at__lt=end)
    of_listed = Q(lot__item__traceability_listed=True) | Q(
        inputs__lot__item__traceability_listed=True
    )
    yield from teller.made(batches.filter(of_listed).distinct())


def lots_by_code(code: str) -> QuerySet[Lot]:
    """Lots that carry this traceability lot code, or our strip."""
    return Lot.objects.filter(Q(supplier_lot=code) | Q(strip=code.upper()))


class _Teller:
    def __init__(self) -> None:
        self._measures: Measures = item_measures()
        self._house: Business = business()

    def moments(self, first: date, last: date) -> tuple[datetime, datetime]:
        clock, after = self._house.clock, last + timedelta(days=1)
        start, end = (clock.instant(day, time.min) for day in (first, after))
        return datetime.fromtimestamp(start, UTC), datetime.fromtimestamp(end, UTC)

    def received(self, rows: QuerySet[ReceiptLine]) -> Iterator[Record]:
        wanted = rows.filter(lot__isnull=False, receipt__undone_at__isnull=True)
        wanted = wanted.select_related("item", "lot", "receipt__supplier", "receipt__location")
        for chunk in _portions(wanted.order_by("receipt__happened_at", "pk")):
            came = _came([row.lot_id for row in chunk if row.lot_id], Movement.Kind.RECEIPT)
            for row in chunk:
                if row.lot is not None:
                    qty = came.get(row.lot.pk, Decimal(0))
                    yield self._receipt(row, row.lot, qty), row.lot.strip

    def _receipt(self, row: ReceiptLine, lot: Lot, qty: Decimal) -> Event:
        receipt, item = row.receipt, row.item
        seller = receipt.supplier
        known = [seller.name, seller.phone, seller.email] if seller else [receipt.bought_from]
        return Event(
            kind=Kind.RECEIVING,
            code=lot.supplier_lot,
            product=item.name,
            qty=self._own(item.code, qty),
            unit=item.unit,
            on=self._house.day_of(receipt.happened_at),
            listed=item.traceability_listed,
            source=Source.SUPPLIER if seller else Source.COUNTER,
            other_party=", ".join(filter(None, known)),
            own_place=receipt.location.name,
            code_source=seller.name if seller and lot.supplier_lot else "",
            reference_kind="delivery note" if receipt.document else "",
            reference=receipt.document,
        )

    def opened(self, rows: QuerySet[Lot]) -> Iterator[Record]:
        """There when the books were opened: who sent it is not known, and that is said."""
        wanted = rows.filter(origin=Lot.Origin.OPENING).select_related("item")
        for chunk in _portions(wanted.order_by("received_on", "pk")):
            came = _came([lot.pk for lot in chunk], Movement.Kind.OPENING)
            for lot in chunk:
                qty = self._own(lot.item.code, came.get(lot.pk, Decimal(0)))
                yield (
                    Event(
                        kind=Kind.RECEIVING,
                        code=lot.supplier_lot,
                        product=lot.item.name,
                        qty=qty,
                        unit=lot.item.unit,
                        on=lot.received_on,
                        listed=lot.item.traceability_listed,
                    ),
                    lot.strip,
                )

    def moved(self, rows: QuerySet[TransferLine]) -> Iterator[Record]:
        wanted = rows.filter(transfer__sent_at__isnull=False).select_related(
            "lot__item", "transfer__source", "transfer__target"
        )
        for chunk in _portions(wanted.order_by("transfer__sent_at", "pk")):
            codes = _codes([row.lot for row in chunk])
            for row in chunk:
                for event in self._legs(row, codes[row.lot_id]):
                    yield event, row.lot.strip

    def _legs(self, row: TransferLine, code: _Code) -> Iterator[Event]:
        transfer, item = row.transfer, row.lot.item
        source, target = transfer.source.name, transfer.target.name
        ends = (
            (Kind.SHIPPING, row.sent, transfer.sent_at, target, source),
            (Kind.RECEIVING, row.arrived, transfer.arrived_at, source, target),
        )
        for kind, qty, at, other, own in ends:
            if at is not None and qty:
                yield Event(
                    kind=kind,
                    code=code.code,
                    product=item.name,
                    qty=self._own(item.code, qty),
                    unit=item.unit,
                    on=self._house.day_of(at),
                    listed=item.traceability_listed,
                    other_party=other,
                    own_place=own,
                    code_source=code.assigned_by,
                    reference_kind="load slip",
                    reference=transfer.number,
                )

    def made(self, rows: QuerySet[Batch]) -> Iterator[Record]:
        wanted = rows.filter(lot__isnull=False).select_related("lot__item", "location")
        wanted = wanted.prefetch_related("inputs__lot__item")
        for chunk in _portions(wanted.order_by("finished_at", "pk")):
            codes = _codes([one.lot for batch in chunk for one in batch.inputs.all()])
            for batch in chunk:
                if batch.lot is not None:
                    yield self._batch(batch, batch.lot, codes), batch.lot.strip

    def _batch(self, batch: Batch, lot: Lot, codes: Mapping[int, _Code]) -> Event:
        item = lot.item
        return Event(
            kind=Kind.TRANSFORMATION,
            # only what is still on the list gets a new code: a kill step ends the trace
            code=lot.strip if item.traceability_listed else "",
            product=item.name,
            qty=self._own(item.code, batch.made_qty or Decimal(0)),
            unit=item.unit,
            on=self._house.day_of(batch.finished_at or batch.started_at),
            listed=item.traceability_listed,
            own_place=batch.location.name,
            code_source=batch.location.name if item.traceability_listed else "",
            reference_kind="batch",
            reference=str(batch.pk),
            inputs=tuple(
                Input(
                    codes[one.lot_id].code,
                    one.lot.item.name,
                    self._own(one.lot.item.code, one.qty),
                    one.lot.item.unit,
                    one.lot.item.traceability_listed,
                )
                for one in sorted(batch.inputs.all(), key=lambda one: one.pk)
            ),
        )

    def _own(self, item: str, qty: Decimal) -> Decimal:
        return self._measures.in_own_unit(item, qty)


def _portions(rows: QuerySet[Row]) -> Iterator[list[Row]]:
    """In order, a portion at a time, so that a long sheet takes little memory."""
    portion: list[Row] = []
    for row in rows.iterator(chunk_size=_AT_ONCE):
        portion.append(row)
        if len(portion) == _AT_ONCE:
            yield portion
            portion = []
    if portion:
        yield portion


def _came(lot_ids: Collection[int], kind: Movement.Kind) -> dict[int, Decimal]:
    moves = Movement.objects.filter(lot__in=lot_ids, kind=kind)
    return dict(moves.values_list("lot_id").annotate(came=Sum("qty")))


@dataclass(frozen=True, slots=True)
class _Code:
    """A traceability lot code (empty: none), and who assigned it."""

    code: str
    assigned_by: str


def _codes(lots: Collection[Lot]) -> dict[int, _Code]:
    """The supplier's code, else of what was made here the strip of the lot that it is, or is a
    part of, by lot id."""
    roots = _roots(lots)
    receipts = ReceiptLine.objects.filter(lot__in=[root.pk for root in roots.values()])
    sellers = dict(receipts.values_list("lot_id", "receipt__supplier__name"))
    made = Batch.objects.filter(lot__in=[root.pk for root in roots.values()])
    kitchens = dict(made.values_list("lot_id", "location__name"))
    found = {}
    for lot in lots:
        root = roots[lot.pk]
        own = root.strip if root.origin == Lot.Origin.BATCH else ""
        by = sellers.get(root.pk) if lot.supplier_lot else kitchens.get(root.pk)
        found[lot.pk] = _Code(lot.supplier_lot or own, by or "")
    return found


def _roots(lots: Collection[Lot]) -> dict[int, Lot]:
    """By lot id the lot that it is a part of in the end, or itself; a query per level."""
    top = {lot.pk: lot for lot in lots}
    while parts := {pk: lot.parent_id for pk, lot in top.items() if lot.parent_id is not None}:
        parents = Lot.objects.in_bulk(set(parts.values()))
        top |= {pk: parents[parent] for pk, parent in parts.items()}
    return top
