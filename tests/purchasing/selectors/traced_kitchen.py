"""Tomatoes and parsley become relish, which is sent to a truck, sold at a stop, and in part
lost: one small kitchen to trace through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.db import transaction

from inventory.models import (
    Batch,
    BatchInput,
    Item,
    Location,
    Lot,
    Movement,
    Recipe,
    Stop,
    Transfer,
)
from inventory.services.ledger import Entry, post
from inventory.services.take_outs import Known, take_out, use_from_lot
from inventory.services.transfers import Load, load_arrived, send_load
from purchasing.models import Receipt, ReceiptLine, Supplier
from tests import factories as make
from tests.factories import NOW, TODAY

HOUR = timedelta(hours=1)
POUND = Decimal("453.59237")


@dataclass(frozen=True, slots=True)
class Kitchen:
    commissary: Location
    truck: Location
    supplier: Supplier
    tomatoes: tuple[Lot, Lot]
    parsley: Lot
    relish: Lot


def delivered(
    item: Item, place: Location, pounds: int, code: str, *, supplier: Supplier, document: str
) -> Lot:
    """A lot that came by receipt."""
    lot = make.lot(pounds * POUND, at=place, of=item, supplier_lot=code, when=NOW - 3 * HOUR)
    receipt = Receipt.objects.create(
        supplier=supplier,
        location=place,
        document=document,
        happened_at=NOW - 3 * HOUR,
        recorded_at=NOW - 3 * HOUR,
        by=make.user(first_name="Wen"),
    )
    ReceiptLine.objects.create(receipt=receipt, item=item, lot=lot, expected=1, accepted=1)
    return lot


def batch(made: Item, place: Location, inputs: Mapping[Lot, Decimal], qty: Decimal) -> Lot:
    """A finished batch with its movements."""
    recipe, _ = Recipe.objects.get_or_create(item=made, makes_qty=1, makes_unit=made.unit)
    lot = make.lot(of=made, origin="batch")
    row = Batch.objects.create(
        recipe=recipe,
        location=place,
        started_at=NOW - HOUR,
        expected_qty=qty,
        finished_at=NOW,
        made_qty=qty,
        lot=lot,
    )
    BatchInput.objects.bulk_create(
        BatchInput(batch=row, lot=one, qty=used) for one, used in inputs.items()
    )
    kinds = Movement.Kind
    entries = [
        Entry(kinds.BATCH_INPUT, one, place, -used, NOW - HOUR, row.reference)
        for one, used in inputs.items()
    ]
    entries.append(Entry(kinds.MADE, lot, place, qty, NOW, row.reference))
    with transaction.atomic():
        post(entries, by=None, at=NOW)
    return lot


def sent(lot: Lot, source: Location, target: Location, qty: Decimal, arrived: Decimal) -> Transfer:
    load = Load(Transfer.Kind.LOAD_OUT, source, target, [(lot, qty)], TODAY)
    transfer = send_load(load, happened_at=NOW, by=None, at=NOW)
    at = NOW + HOUR
    return load_arrived(
        transfer.number, arrived={lot.strip: arrived}, happened_at=at, by=None, at=at
    )


def kitchen() -> Kitchen:
    """TR-03: 10 lb and 5 lb of two tomato lots and 1 lb of parsley make 15 lb of relish. Of it
    6 lb are sent, half a pound is missing on arrival, 4 lb are sold, 1 lb is dropped."""
    place = make.location(code="COM", name="Mill Lane")
    truck = make.location(code="PIER", name="Pier truck", kind="truck")
    supplier = make.supplier(name="Ferry Road Produce", phone="555 0100")
    listed = {"unit": "lb", "traceability_listed": True}
    tomato, herb = make.item(name="Tomatoes", **listed), make.item(name="Parsley", **listed)
    made = make.item(name="Relish", kind="prep", **listed)
    first = delivered(tomato, place, 12, "T-77", supplier=supplier, document="DN-1")
    second = delivered(tomato, place, 5, "T-78", supplier=supplier, document="DN-2")
    parsley = delivered(herb, place, 1, "P-9", supplier=supplier, document="DN-2")
    inputs = {first: 10 * POUND, second: 5 * POUND, parsley: POUND}
    relish = batch(made, place, inputs, 15 * POUND)
    sent(relish, place, truck, 6 * POUND, arrived=Decimal("5.5") * POUND)
    Stop.objects.create(location=truck, date=TODAY, site="Harbour", opens="11:00")
    later = NOW + 2 * HOUR
    use_from_lot(Known(relish, truck, 4 * POUND, later), by=None, at=later)
    dropped = Known(relish, truck, POUND, later)
    take_out(dropped, reason="dropped or spilled", waste=True, by=None, at=later)
    return Kitchen(place, truck, supplier, (first, second), parsley, relish)
