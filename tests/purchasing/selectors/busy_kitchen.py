"""A kitchen in which something of everything has happened, through the services."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.db import transaction

from inventory.models import (
    Batch,
    BatchInput,
    Hold,
    Item,
    Location,
    Lot,
    Movement,
    Recipe,
    Transfer,
)
from inventory.services.counts import Counted, post_count
from inventory.services.holds import hold_lot
from inventory.services.ledger import Entry, post, reverse_movement
from inventory.services.lots import Change, Part, new_lots, split_lot
from inventory.services.openings import Opening, post_openings
from inventory.services.transfers import Load, load_arrived, send_load
from inventory.services.usable import Permit
from inventory.services.usage import Use, report_use
from purchasing.models import Receipt, ReceiptLine
from purchasing.services.inbound import tell_kitchen
from tests import factories as make
from tests.factories import NOW, TODAY

LATER = NOW + timedelta(hours=1)
MUCH_LATER = NOW + timedelta(days=20)
Kind = Movement.Kind


def busy_kitchen() -> None:
    kitchen = make.location(code="COM")
    truck = make.location(code="T1", kind="truck")
    leeks = make.item(code="LEEK", may_freeze=True, shelf_life_days=9)
    lot = make.lot(1000, at=kitchen, of=leeks, use_by=TODAY + timedelta(days=9))
    _opening(leeks, kitchen)
    _loads(lot, kitchen, truck)
    _parts(lot, kitchen)
    _batch(lot, kitchen)
    _use(leeks, lot, kitchen)
    _order(leeks, kitchen)


def _opening(item: Item, place: Location) -> None:
    with transaction.atomic():
        post_openings([Opening("COM|LEEK|1", item, place, Decimal(50))], by=None, at=NOW)


def _loads(lot: Lot, kitchen: Location, truck: Location) -> None:
    load = Load(Transfer.Kind.LOAD_OUT, kitchen, truck, [(lot, Decimal(100))], TODAY)
    arrived = send_load(load, happened_at=NOW, by=None, at=NOW)
    quantities = {lot.strip: Decimal(95)}
    load_arrived(arrived.number, arrived=quantities, happened_at=LATER, by=None, at=LATER)
    send_load(load, happened_at=LATER, by=None, at=LATER)


def _parts(lot: Lot, kitchen: Location) -> None:
    opened = Part(lot, kitchen, Decimal(50), Change.OPEN)
    split_lot(opened, happened_at=NOW, by=None, at=NOW)
    freeze = Part(lot, kitchen, Decimal(60), Change.FREEZE)
    frozen = split_lot(freeze, happened_at=NOW, by=None, at=NOW)
    thaw = Part(frozen, kitchen, Decimal(20), Change.THAW)
    split_lot(thaw, happened_at=MUCH_LATER, by=None, at=MUCH_LATER)


def _batch(lot: Lot, kitchen: Location) -> None:
    soup = make.item(code="SOUP", kind="prep")
    recipe = Recipe.objects.create(item=soup, makes_qty=Decimal(1), makes_unit="kg")
    with transaction.atomic():
        (made,) = new_lots([Lot(item=soup, origin=Lot.Origin.BATCH)])
        batch = Batch.objects.create(
            recipe=recipe,
            location=kitchen,
            started_at=NOW,
            finished_at=LATER,
            expected_qty=Decimal(80),
            made_qty=Decimal(75),
            lot=made,
        )
        BatchInput.objects.create(batch=batch, lot=lot, qty=Decimal(40))
        post(
            [
                Entry(Kind.BATCH_INPUT, lot, kitchen, Decimal(-40), NOW, batch.reference),
                Entry(Kind.MADE, made, kitchen, Decimal(75), LATER, batch.reference),
            ],
            by=None,
            at=LATER,
        )


def _use(item: Item, lot: Lot, kitchen: Location) -> None:
    drawn = report_use([Use(item, kitchen, Decimal(30), NOW)], by=None, at=NOW)
    reverse_movement(drawn.movements[0].pk, reason="typed twice", by=None, at=LATER)
    counted = [Counted(lot, kitchen, Decimal(500))]
    post_count(counted, reference="count:1", counted_at=LATER, by=None, at=LATER)
    held = make.lot(10, at=kitchen, of=item, use_by=TODAY - timedelta(days=3))
    hold_lot(held, reason=Hold.Reason.RECALL, by=None, at=NOW)
    permit = Permit(make.manager(), "goes back to the supplier")
    draw = Entry(Kind.USAGE, held, kitchen, Decimal(-1), LATER, "use:held")
    with transaction.atomic():
        post([draw], by=None, at=LATER, permit=permit)


def _order(item: Item, kitchen: Location) -> None:
    order = make.order(number="PO-1", location=kitchen)
    sold = make.offer(supplier=order.supplier, item=item)
    line = make.order_line(order, offer=sold, cases=5, received_cases=Decimal(2))
    receipt = Receipt.objects.create(
        order=order,
        supplier=order.supplier,
        location=kitchen,
        happened_at=NOW,
        recorded_at=NOW,
    )
    lot = make.lot(20_000, at=kitchen, of=item)
    ReceiptLine.objects.create(
        receipt=receipt, order_line=line, item=item, lot=lot, expected=5, accepted=2, to_follow=3
    )
    with transaction.atomic():
        tell_kitchen([order.pk])
