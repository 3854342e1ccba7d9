"""Words that the sentences of several services share."""

from __future__ import annotations

from decimal import Decimal

from inventory.models import Hold, Item, Lot
from inventory.selectors.measures import item_measures


def amount(item: Item, qty: Decimal) -> str:
    """A base quantity with its unit; reads the units, so for sentences only."""
    return f"{qty.normalize():f} {item_measures().base_unit(item.code)}"


def of_lot(lot: Lot) -> str:
    return f"{lot.item} {lot.strip}"


def why_held(hold: Hold) -> str:
    """Why something is on hold, with what was written down about it."""
    return ": ".join(filter(None, [str(hold.get_reason_display()), hold.note]))
