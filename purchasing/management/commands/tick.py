"""Do what is due now; safe to run at any time, by several at once."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.management.refusing import RefusingCommand
from purchasing.services.due import do_what_is_due


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        done = do_what_is_due(at=timezone.now())
        if options["as_json"]:
            self.print_json({"done": done})
        else:
            self.stdout.write(f"{done} due moments done." if done else "Nothing is due.")
