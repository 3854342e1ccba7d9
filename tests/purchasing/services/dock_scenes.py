"""Deliveries for the tests of receiving: an order of a few lines, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User

from inventory.engine.safety import Reading
from inventory.models import Item, Location, Lot
from inventory.selectors.viewers import viewer_of
from purchasing.models import OrderLine, PurchaseOrder, Receipt
from purchasing.selectors.on_order import open_cases
from purchasing.services.dock import CameLine, CameLot, Delivery
from purchasing.services.order_hand import Hand
from purchasing.services.receiving import receive
from tests import factories as make
from tests.factories import NOW

COLD = Reading(Decimal(38), "F")


def hand(who: User, at: datetime = NOW) -> Hand:
    return Hand(viewer_of(who), who, at)


def chilled(**facts: Any) -> Item:
    return make.item(**{"storage": "chilled", "tcs": True, "shelf_life_days": 7, **facts})


def frozen(**facts: Any) -> Item:
    return make.item(**{"storage": "frozen", "tcs": True, "shelf_life_days": 90, **facts})


def dry(**facts: Any) -> Item:
    return make.item(**{"storage": "dry", **facts})


def ordered(*items: Item, place: Location | None = None, **facts: Any) -> PurchaseOrder:
    """A sent order of 5 cases of 10 kg at 12.00 a case of each item."""
    order = make.order(location=place or make.location(), **facts)
    for item in items:
        offer = make.offer(supplier=order.supplier, item=item)
        make.order_line(order, offer=offer, cases=5)
    return order


def line_of(order: PurchaseOrder, item: Item) -> OrderLine:
    return order.lines.select_related("item", "offer").get(item=item)


def as_ordered(line: OrderLine, **facts: Any) -> CameLine:
    """Everything came, cold, frozen hard, with a lot code. ``lot``: facts of the lot;
    ``accepted``: cases."""
    item = line.item
    cases = facts.pop("accepted", open_cases(line))
    lot = CameLot(**{"cases": Decimal(cases), "supplier_lot": "L1", **facts.pop("lot", {})})
    came = CameLine(
        line.pk,
        open_cases(line),
        (lot,),
        reading=COLD if item.storage == "chilled" else None,
        thawed=False if item.storage == "frozen" else None,
    )
    return replace(came, **facts)


def delivery_of(order: PurchaseOrder, **facts: Any) -> Delivery:
    lines = order.lines.select_related("item", "offer")
    return Delivery([as_ordered(line) for line in lines], **facts)


def take_in(order: PurchaseOrder, who: User, *lines: CameLine, **facts: Any) -> Receipt:
    at = facts.pop("at", NOW)
    happened_at = facts.pop("happened_at", at)
    told = Delivery(lines, **facts) if lines else delivery_of(order, **facts)
    return receive(order.number, told, happened_at=happened_at, hand=hand(who, at))


def lot_of(receipt: Receipt) -> Lot:
    return Lot.objects.get(receipt_line__receipt=receipt)
