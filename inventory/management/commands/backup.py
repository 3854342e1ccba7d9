"""Copy database and uploaded files into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.management.refusing import RefusingCommand, has_tables
from inventory.problems import Problem, Refused
from inventory.services.backup import backup


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--json", action="store_true", dest="as_json")

    def prepare(self) -> None:
        """Tables of an older version are copied as well: before a migration, that is."""
        if not has_tables():
            raise Refused(Problem("no_tables", "The database is empty. Look at DATABASE_URL."))

    def work(self, **options: Any) -> None:
        backup(options["path"])
        if options["as_json"]:
            self.print_json({"path": str(options["path"])})
        else:
            self.stdout.write(f"Backed up to {options['path']}.")
