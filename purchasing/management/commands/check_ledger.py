"""Re-check every invariant on live data; status 1 and the rows if one fails."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.core.management.base import CommandParser

from inventory.management.refusing import RefusingCommand
from inventory.problems import Problem, Refused
from purchasing.selectors.invariants import Finding, check_all


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        findings = check_all()
        if options["as_json"]:
            invariants = [asdict(finding) for finding in findings]
            self.print_json({"holds": not _broken(findings), "invariants": invariants})
        else:
            self.stdout.write("\n".join(_line(finding) for finding in findings))
        if broken := _broken(findings):
            raise Refused(_problem(finding) for finding in broken)


def _broken(findings: list[Finding]) -> list[Finding]:
    return [finding for finding in findings if finding.rows]


def _line(finding: Finding) -> str:
    return f"{'broken' if finding.rows else 'holds '}  {finding.says}"


def _problem(finding: Finding) -> Problem:
    rows = [
        "  " + ", ".join(f"{key} {value}" for key, value in row.items()) for row in finding.rows
    ]
    return Problem(finding.code, "\n".join([f"Broken: {finding.says}", *rows]))
