"""Rows of a receipt: one for each accepted lot, one for each substitute, always adding up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Location
from inventory.services.lots import new_lots
from purchasing.models import OrderLine, ReceiptLine
from purchasing.selectors.put_away import areas_for
from purchasing.services.dock import NONE, CameLine, CameLot
from purchasing.services.dock_checks import Dock, judged_as
from purchasing.services.dock_lots import Put, Shelf, put_of, put_of_substitute


@dataclass(slots=True)
class Row:
    """One row of the receipt being made; ``came_lot`` or ``instead`` is what goes into stock."""

    line: ReceiptLine
    order_line: OrderLine
    came: CameLine
    came_lot: CameLot | None = None
    is_substitute: bool = False
    put: Put | None = None


def rows_of(line: OrderLine, came: CameLine) -> Iterator[Row]:
    """One row for each accepted lot; the first carries what was rejected and the rest."""
    lots = [lot for lot in came.lots if lot.cases > 0]
    left = came.expected - came.rejected - came.substituted - came.to_follow - came.cancelled
    first = _row(line, came)
    first.rejected, first.rejected_to_follow = came.rejected, came.brings_again
    first.reject_reason = came.reject_reason.strip()
    first.substituted, first.to_follow = came.substituted, came.to_follow
    first.cancelled = came.cancelled
    first.expected = came.rejected + came.substituted + came.to_follow + came.cancelled
    rows = [Row(first, line, came)]
    for place, lot in enumerate(lots):
        row = rows[0] if place == 0 else Row(_row(line, came), line, came)
        expected = max(NONE, min(lot.cases, left))
        left -= expected
        row.came_lot, row.line.accepted = lot, lot.cases
        row.line.expected += expected
        row.line.over = lot.cases - expected
        if place:
            rows.append(row)
    _over_without_lots(first, left)
    yield from rows
    if came.substitute:
        sub = _row(line, came)
        sub.item, sub.order_line, sub.instead_of = came.substitute.item, None, first
        sub.judged = (came.judged or judged_as(sub.item)).value
        sub.accepted = sub.over = came.substitute.cases
        yield Row(sub, line, came, is_substitute=True)


def _over_without_lots(first: ReceiptLine, left: Decimal) -> None:
    """More was rejected or replaced than was expected."""
    if left < 0:
        first.over -= left
        first.expected += left


def _row(line: OrderLine, came: CameLine) -> ReceiptLine:
    reading = came.reading
    return ReceiptLine(
        order_line=line,
        item=line.item,
        temperature=reading.degrees if reading else None,
        temperature_unit=reading.unit if reading else "",
        judged=(came.judged or judged_as(line.item)).value,
        arrived_frozen=None if came.thawed is None else not came.thawed,
    )


def fill(rows: Sequence[Row], place: Location, dock: Dock) -> None:
    """Lots with their strip numbers, for what was accepted."""
    shelf = Shelf(dock.day, dock.measures, areas_for(place, [row.line.item for row in rows]))
    for row in rows:
        if row.came_lot:
            row.put = put_of(row.order_line, row.came_lot, shelf)
        elif row.is_substitute and row.came.substitute:
            row.put = put_of_substitute(row.came.substitute, shelf)
    put = [(row.line, row.put) for row in rows if row.put]
    made = new_lots([one.lot for _, one in put])
    for (line, one), lot in zip(put, made, strict=True):
        line.lot, line.weight = lot, one.weighed


def keep(rows: Sequence[Row]) -> None:
    """Store the rows; those of substitutes name the row they replace, so they come after."""
    ReceiptLine.objects.bulk_create(row.line for row in rows if not row.is_substitute)
    ReceiptLine.objects.bulk_create(row.line for row in rows if row.is_substitute)
