"""An order as a spreadsheet: one row a line, safe to open."""

from __future__ import annotations

import csv
import io

from purchasing.papers.sheet import OrderSheet

HEADER = (
    *("order", "account", "deliver_to", "delivery", "line", "sku", "item", "cases"),
    *("a_case_is", "price", "per", "value", "currency"),
)
# What a spreadsheet program takes for the beginning of a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def order_csv(sheet: OrderSheet) -> bytes:
    """UTF-8 with a byte order mark: spreadsheet programs read umlauts only with one."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADER)
    for line in sheet.lines:
        head = (sheet.number, sheet.supplier.account, sheet.deliver_to, sheet.delivery.isoformat())
        price = f"{line.price:f}".rstrip("0").rstrip(".") if "." in str(line.price) else line.price
        figures = (line.pack, price, line.priced_per, f"{line.value:f}", sheet.currency)
        row = (*head, line.number, line.sku, line.item, line.cases, *figures)
        writer.writerow([_harmless(str(cell)) for cell in row])
    return out.getvalue().encode("utf-8-sig")


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA) else cell
