"""Save everything that plans are made from as a workbook (.xlsx, or a folder of .csv)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.management.refusing import RefusingCommand
from purchasing.exchange.workbook import save_workbook


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        save_workbook(options["path"])
        if options["as_json"]:
            self.print_json({"path": str(options["path"])})
        else:
            self.stdout.write(f"Saved to {options['path']}.")
