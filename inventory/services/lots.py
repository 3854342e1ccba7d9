"""Lots: their strip numbers."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.engine.strips import strips
from inventory.models import Counter, Lot
from inventory.services.ledger import demand_transaction

_ROWS_AT_ONCE = 1000
_STRIPS = "strips"


def lock_strips() -> Counter:
    """The counter of strip numbers; whoever else makes lots waits until this transaction
    ends, so a rolled-back one leaves no gap."""
    demand_transaction()
    return Counter.objects.select_for_update().get_or_create(name=_STRIPS)[0]


def new_lots(lots: Sequence[Lot]) -> list[Lot]:
    """Give ``lots`` (unsaved) their strip numbers and store them."""
    counter = lock_strips()
    words, counter.value = strips(counter.value, len(lots))
    counter.save(update_fields=["value"])
    for lot, word in zip(lots, words, strict=True):
        lot.strip = word
    return Lot.objects.bulk_create(lots, batch_size=_ROWS_AT_ONCE)
