"""Make the first person of a new kitchen, who then invites the others."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.management.refusing import RefusingCommand
from inventory.services.first_owner import make_first_owner


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="the name to sign in with")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        password = make_first_owner(options["username"], at=timezone.now())
        if options["as_json"]:
            self.print_json({"username": options["username"], "password": password})
        else:
            self.stdout.write(
                f"{options['username']} is the owner. Password, shown this once: {password}"
            )
