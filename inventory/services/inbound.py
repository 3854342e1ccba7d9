"""What is coming: purchasing tells this app through here, the source being text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from inventory.models import Inbound, Item
from inventory.services.ledger import demand_transaction

ROWS_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Expected:
    """Goods expected from one source line; a quantity of 0: nothing more is coming."""

    source_key: str
    source: str
    item: Item
    location_id: int
    due: date
    qty: Decimal


def expect(lines: Iterable[Expected]) -> None:
    """Bring the inbound rows of these source lines in line; a step of a larger act."""
    demand_transaction()
    wanted = {line.source_key: line for line in lines}
    stored = {row.source_key: row for row in Inbound.objects.all() if row.source_key in wanted}
    for key, row in stored.items():
        if wanted[key].qty <= 0:
            row.delete()
    coming = {key: line for key, line in wanted.items() if line.qty > 0}
    new = [_row(line) for key, line in coming.items() if key not in stored]
    Inbound.objects.bulk_create(new, batch_size=ROWS_AT_ONCE)
    changed = [row for key, row in stored.items() if key in coming and _follow(row, coming[key])]
    if changed:
        fields = ["item", "location", "due", "qty", "use_by", "source"]
        Inbound.objects.bulk_update(changed, fields, batch_size=ROWS_AT_ONCE)


def _row(line: Expected) -> Inbound:
    row = Inbound(source_key=line.source_key)
    _follow(row, line)
    return row


def _follow(row: Inbound, line: Expected) -> bool:
    life = line.item.shelf_life_days
    told = {
        "item_id": line.item.pk,
        "location_id": line.location_id,
        "due": line.due,
        "qty": line.qty,
        "use_by": None if life is None else line.due + timedelta(days=life),
        "source": line.source,
    }
    differing = [name for name, value in told.items() if getattr(row, name, None) != value]
    for name in differing:
        setattr(row, name, told[name])
    return bool(differing)
