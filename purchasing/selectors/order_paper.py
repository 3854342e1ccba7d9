"""An order as its papers say it, read from the tables."""

from __future__ import annotations

from datetime import datetime

from inventory.selectors.business import business
from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.papers.sheet import OrderSheet, Party, SheetLine


def order_paper(order: PurchaseOrder, *, at: datetime, may_be_a_copy: bool = False) -> OrderSheet:
    """``at``: when the paper is made. Lines without cases are left out."""
    house = business()
    supplier, approver = order.supplier, order.approved_by
    lines = order.lines.select_related("item", "offer").filter(cases__gt=0)
    return OrderSheet(
        number=order.number,
        buyer=Party(house.business_name or "The kitchen"),
        supplier=Party(supplier.name, supplier.account, supplier.email, supplier.phone),
        deliver_to=order.location.name,
        delivery=order.delivery,
        issued=house.clock.local(int(at.timestamp())),
        currency=house.currency,
        approved_by=(approver.get_full_name() or approver.get_username()) if approver else "",
        lines=tuple(
            _line(number, line)
            for number, line in enumerate(lines.order_by("item__name", "pk"), start=1)
        ),
        notes=_notes(order),
        may_be_a_copy=may_be_a_copy,
    )


def _line(number: int, line: OrderLine) -> SheetLine:
    offer = line.offer
    nominal = offer.nominal_qty if offer.catch_weight else None
    return SheetLine(
        number=number,
        item=line.item.name,
        sku=offer.sku,
        gtin=offer.gtin,
        cases=line.cases,
        pack=words.exactly(nominal or line.pack_qty, line.pack_unit),
        price=line.price,
        priced_per=line.priced_per,
        priced_units=line.priced_units,
        catch_weight=offer.catch_weight,
    )


def _notes(order: PurchaseOrder) -> tuple[str, ...]:
    notes = []
    if order.status == PurchaseOrder.Status.DRAFT:
        notes.append("A draft: not ordered yet.")
    if order.adds_to is not None:
        notes.append(f"Comes with order {order.adds_to.number} of the same day and adds to it.")
    return tuple(notes)
