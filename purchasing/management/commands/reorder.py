"""Work out what to order, from whom and why, and write it as draft orders."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.engine.dates import BusinessClock
from inventory.management.refusing import RefusingCommand
from inventory.selectors.business import business
from purchasing.management.commands._moments import moment
from purchasing.management.commands._names import names
from purchasing.printed import orders_text, plan_of
from purchasing.services.reorder import DEFAULT_SEED, Scope, draw_up_orders


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--as-of", help="YYYY-MM-DDTHH:MM in the business's zone; now")
        parser.add_argument("--location", help="write only drafts for this location")
        parser.add_argument("--supplier", help="write only drafts for this supplier")
        parser.add_argument("--seed", type=int, default=DEFAULT_SEED)
        parser.add_argument("--dry-run", action="store_true", help="store nothing")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        clock = BusinessClock(business().time_zone)
        text = options["as_of"]
        drawn = draw_up_orders(
            as_of=moment(text, clock) if text else timezone.now().replace(microsecond=0),
            seed=options["seed"],
            scope=Scope(options["location"], options["supplier"]),
            dry_run=options["dry_run"],
        )
        if options["as_json"]:
            self.print_json(drawn.document)
        else:
            self.stdout.write(orders_text(plan_of(drawn.document), names()))
