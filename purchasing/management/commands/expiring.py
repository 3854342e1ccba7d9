"""Which lots expire soonest, by money at risk."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.engine.dates import BusinessClock
from inventory.management.refusing import RefusingCommand
from inventory.selectors.business import business
from purchasing.management.commands._lots import lots_document
from purchasing.management.commands._moments import day
from purchasing.management.commands._names import names
from purchasing.printed import expiring_text, lots_of
from purchasing.selectors.use_by import DEFAULT_DAYS
from purchasing.services.reorder import Scope, check_scope


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--as-of", help="YYYY-MM-DD, as the day begins; now")
        parser.add_argument("--days", type=int, default=DEFAULT_DAYS, help="use-by within")
        parser.add_argument("--location", help="only lots there")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        check_scope(Scope(location=options["location"]))
        clock = BusinessClock(business().time_zone)
        text = options["as_of"]
        now = timezone.now()
        today = day(text) if text else clock.day_of(int(now.timestamp()))
        document = lots_document(
            today,
            at=None if text else now,
            days=options["days"],
            location=options["location"],
        )
        if options["as_json"]:
            self.print_json(document)
        else:
            self.stdout.write(expiring_text(lots_of(document), today, names()))
