"""Copy database and uploaded files into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.management.refusing import RefusingCommand
from inventory.services.backup import backup


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        backup(options["path"])
        if options["as_json"]:
            self.print_json({"path": str(options["path"])})
        else:
            self.stdout.write(f"Backed up to {options['path']}.")
