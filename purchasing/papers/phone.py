"""An order to be read out on the phone: in the order of the supplier's own numbers."""

from __future__ import annotations

from purchasing.papers.sheet import SheetLine


def in_their_order(lines: tuple[SheetLine, ...]) -> list[SheetLine]:
    """By SKU as the supplier's list has it, numbers by size; what has none at the end, by
    name."""
    return sorted(lines, key=_place)


def _place(line: SheetLine) -> tuple[bool, bool, int, str, str]:
    number = line.sku if line.sku.isdigit() else ""
    return not line.sku, not number, int(number or 0), line.sku.casefold(), line.item.casefold()
