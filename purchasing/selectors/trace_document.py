"""A trace as the document that ``trace --json`` prints: quantities in the unit of each item."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
from typing import Any

from inventory.engine.trace import Account
from inventory.models import Item, Lot
from inventory.selectors.measures import Measures, item_measures
from purchasing.models import ReceiptLine
from purchasing.selectors.run_document import digits
from purchasing.selectors.trace import Reached, Trace, Whereabouts, trace

Document = dict[str, Any]


def trace_document(lot: Lot) -> Document:
    found, measures = trace(lot), item_measures()
    return {
        **_lot(lot),
        "parts": [part.strip for part in found.parts],
        "received": _received(found, lot),
        "on_hold": [
            {
                "lot": hold.lot.strip,
                "location": hold.location.code if hold.location else None,
                "reason": hold.reason,
            }
            for hold in found.holds
        ],
        **_whereabouts(lot.item, found.whereabouts, measures),
        "back": [_reached(one, measures) | _from(found, one.lot) for one in found.behind],
        "forward": [_reached(one, measures) for one in found.ahead],
    }


def _lot(lot: Lot) -> Document:
    return {
        "lot": lot.strip,
        "item": lot.item.code,
        "unit": lot.item.unit,
        "supplier_lot": lot.supplier_lot,
        "origin": lot.origin,
        "received_on": lot.received_on and lot.received_on.isoformat(),
        "use_by": lot.use_by and lot.use_by.isoformat(),
    }


def _received(found: Trace, lot: Lot) -> Document | None:
    line: ReceiptLine | None = found.received.get(lot.pk)
    if line is None:
        return None
    receipt = line.receipt
    return {
        "supplier": receipt.supplier.code if receipt.supplier else None,
        "bought_from": receipt.bought_from,
        "order": receipt.order.number if receipt.order else None,
        "document": receipt.document,
        "location": receipt.location.code,
        "at": receipt.happened_at.isoformat(),
        "by": receipt.by.get_username() if receipt.by else None,
    }


def _from(found: Trace, lot: Lot) -> Document:
    return {"received": _received(found, lot)}


def _reached(one: Reached, measures: Measures) -> Document:
    return {
        "level": one.level,
        **_lot(one.lot),
        "source": one.source.strip,
        "source_qty": digits(measures.in_own_unit(one.source.item.code, one.qty)),
        "source_unit": one.source.item.unit,
        "batch": one.batch,
        **_whereabouts(one.lot.item, one.whereabouts, measures),
    }


def _whereabouts(item: Item, whole: Whereabouts, measures: Measures) -> Document:
    def own(qty: Decimal) -> str:
        return digits(measures.in_own_unit(item.code, qty))

    def sums(account: Account) -> Document:
        told = {one.name: own(getattr(account, one.name)) for one in fields(account)}
        return {**told, "adds_up": account.adds_up}

    return {
        "account": sums(whole.account),
        "places": [{"location": place.code, **sums(there)} for place, there in whole.places],
        "sold": [
            {
                "location": sold.place.code,
                "day": sold.day.isoformat(),
                "stops": [stop.event or stop.site for stop in sold.stops],
                "qty": own(sold.qty),
            }
            for sold in whole.sold
        ],
        "taken_out": [
            {"location": out.place.code, "why": out.why, "qty": own(out.qty)}
            for out in whole.taken_out
        ],
        "loads": [
            {
                "number": load.transfer.number,
                "from": load.transfer.source.code,
                "to": load.transfer.target.code,
                "qty": own(load.qty),
                "missing": own(load.missing),
                "arrived": load.transfer.arrived_at is not None,
            }
            for load in whole.loads
        ],
    }
