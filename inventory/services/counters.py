"""Numbers in a row, without a gap: whoever else numbers waits until this act has ended."""

from __future__ import annotations

from inventory.models import Counter
from inventory.services.ledger import demand_transaction


def locked_counter(name: str) -> Counter:
    """A counter, held until the transaction ends, so a rolled-back act leaves no gap."""
    demand_transaction()
    return Counter.objects.select_for_update().get_or_create(name=name)[0]


def next_number(name: str) -> int:
    """1, 2, 3 …"""
    counter = locked_counter(name)
    counter.value += 1
    counter.save(update_fields=["value"])
    return counter.value
