"""Where a lot came from and where it went, with quantities that add up."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser

from inventory.management.refusing import RefusingCommand
from inventory.models import Lot
from inventory.problems import Problem, Refused
from purchasing.printed_trace import trace_text
from purchasing.selectors.trace_document import trace_document
from purchasing.selectors.trace_told import told


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("strip", help="the five letters on the label, or a supplier's lot code")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        lot = _lot(options["strip"])
        if options["as_json"]:
            self.print_json(trace_document(lot))
        else:
            self.stdout.write(trace_text(told(lot)))


def _lot(asked: str) -> Lot:
    rows = Lot.objects.select_related("item", "parent__item")
    if found := rows.filter(strip=asked.upper()).first():
        return found
    named = list(rows.filter(supplier_lot=asked).exclude(origin=Lot.Origin.PART).order_by("strip"))
    if len(named) == 1:
        return named[0]
    raise Refused(_not_one(asked, named))


def _not_one(asked: str, named: list[Lot]) -> Problem:
    if named:
        strips = ", ".join(f"{lot.strip} ({lot.item})" for lot in named)
        message = f"'{asked}' is the lot code of several lots: {strips}. Name one by its strip."
        return Problem("several_lots", message, "strip")
    message = (
        f"No lot has the strip '{asked}', nor that lot code. A strip is the five letters on the "
        "label."
    )
    return Problem("no_lot", message, "strip")
