"""Which lots expire soonest, by money at risk."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.engine.dates import BusinessClock
from inventory.management.refusing import RefusingCommand
from inventory.selectors.business import business
from inventory.selectors.measures import Measures
from purchasing.management.commands._moments import day
from purchasing.management.commands._names import names
from purchasing.printed import expiring_text, lots_of
from purchasing.selectors.run_document import digits, in_own_unit, rounded
from purchasing.selectors.use_by import DEFAULT_DAYS, LotAtRisk, lots_at_risk


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--as-of", help="YYYY-MM-DD; today")
        parser.add_argument("--days", type=int, default=DEFAULT_DAYS, help="use-by within")
        parser.add_argument("--location", help="only lots there")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        clock = BusinessClock(business().time_zone)
        text = options["as_of"]
        today = day(text) if text else clock.day_of(int(timezone.now().timestamp()))
        lots, gathered = lots_at_risk(today, days=options["days"], location=options["location"])
        document = {
            "as_of": today.isoformat(),
            "lots": [_document(lot, gathered.measures) for lot in lots],
        }
        if options["as_json"]:
            self.print_json(document)
        else:
            self.stdout.write(expiring_text(lots_of(document), today, names()))


def _document(lot: LotAtRisk, measures: Measures) -> dict[str, Any]:
    return {
        "lot": lot.strip,
        "supplier_lot": lot.supplier_lot,
        "item": lot.item,
        "location": lot.location,
        "qty": digits(measures.in_own_unit(lot.item, lot.qty)),
        "unit": measures.own_unit(lot.item),
        "use_by": lot.use_by.isoformat(),
        "days_left": lot.days_left,
        "expected_waste_qty": in_own_unit(lot.expected_waste, lot.item, measures),
        "expected_waste_value": None if lot.value is None else f"{lot.value:.2f}",
        "chance_of_waste": rounded(lot.chance),
    }
