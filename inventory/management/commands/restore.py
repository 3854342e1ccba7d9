"""Replace database and uploaded files by those of a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.management.refusing import RefusingCommand
from inventory.services.backup import restore


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--json", action="store_true", dest="as_json")

    def prepare(self) -> None:
        """Nothing: the tables come with the backup."""

    def work(self, **options: Any) -> None:
        restore(options["path"])
        if options["as_json"]:
            self.print_json({"path": str(options["path"])})
        else:
            self.stdout.write(f"Restored from {options['path']}.")
