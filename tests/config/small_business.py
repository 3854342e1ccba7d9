"""One of everything, so that made-up requests find something."""

from __future__ import annotations

from decimal import Decimal

from inventory.models import Hold, Membership, StorageArea
from inventory.services.holds import hold_lot
from inventory.services.transfers import Load, send_load
from purchasing.models import Par, Price, ReorderRun, RunLine
from tests import factories as make


def built() -> dict[str, list[str]]:
    """Codes by the name of the input that takes them."""
    here = make.location(code="COM")
    truck = make.location(code="TRUCK", kind="truck")
    StorageArea.objects.create(location=here, code="WALKIN", name="Walk-in", kind="chilled")
    item = make.item(code="LEEK", may_freeze=True, shelf_life_days=9)
    lots = [make.lot(5000, at=here, of=item) for _ in range(2)]
    hold_lot(lots[1], reason=Hold.Reason.OTHER, by=None, at=make.NOW)
    load = Load("load_out", here, truck, [(lots[0], Decimal(500))], make.TODAY)  # type: ignore[arg-type]
    sent = send_load(load, happened_at=make.NOW, by=None, at=make.NOW)
    offer = make.offer(supplier=make.supplier(code="GRO"), item=item, sku="L5")
    Price.objects.create(offer=offer, price=Decimal("9.5"))
    numbers = []
    for status in ("draft", "approved", "sent"):
        order = make.order(supplier=offer.supplier, location=here, status=status)
        make.order_line(order, offer=offer, our_cases=2)
        numbers.append(order.number)
    Par.objects.create(location=here, item=item, basis="fixed", par=3, unit="kg")
    Membership.objects.create(user=make.user(username="mo"), role="staff", location=here)
    run = ReorderRun.objects.create(as_of=make.NOW, seed=1, paths=9, worked_out_at=make.NOW)
    RunLine.objects.create(run=run, location=here, item=item)
    return {
        "code": ["COM", "LEEK", "GRO"],
        "location": ["COM", "TRUCK"],
        "source": ["COM"],
        "target": ["TRUCK"],
        "area": ["WALKIN"],
        "item": ["LEEK"],
        "strip": [lot.strip for lot in lots],
        "lot": [lot.strip for lot in lots],
        "supplier": ["GRO"],
        "sku": ["L5"],
        "unit": ["kg", "g", "case"],
        "number": [*numbers, sent.number],
        "run": [str(run.pk)],
        "to": ["TRUCK"],
        "username": ["mo"],
    }
