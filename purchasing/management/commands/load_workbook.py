"""Load a workbook: one .xlsx file or a folder of .csv files."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.management.refusing import RefusingCommand, has_tables
from purchasing.exchange.workbook import LoadReport, check_workbook, load_workbook


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--check", action="store_true", help="only look")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def prepare(self) -> None:
        """A database without anything gets its tables first."""
        if not has_tables():
            call_command("migrate", verbosity=0)
        super().prepare()

    def work(self, **options: Any) -> None:
        path: Path = options["path"]
        if options["check"]:
            report = check_workbook(path)
        else:
            report = load_workbook(path, by=None, at=timezone.now())
        self.complain(report.warnings)
        if options["as_json"]:
            self.print_json(_document(report, options["check"]))
        else:
            self.stdout.write(_sentences(report, options["check"]))


def _document(report: LoadReport, only_checked: bool) -> dict[str, Any]:
    return {
        "checked": True,
        "stored": not only_checked,
        "sheets": {name: asdict(tally) for name, tally in report.sheets.items()},
        "warnings": [warning.message for warning in report.warnings],
    }


def _sentences(report: LoadReport, only_checked: bool) -> str:
    if only_checked:
        return "The workbook can be loaded. Nothing was stored."
    if not report.changed:
        return "Everything in the workbook was there already. Nothing changed."
    lines = [
        f"{name:<20}{tally.added:>8} new {tally.changed:>8} changed {tally.same:>8} as before"
        for name, tally in report.sheets.items()
    ]
    return "\n".join(["Loaded.", *lines])
