"""Commands that say what is wrong on standard error and end with status 1."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from django.core.management.base import BaseCommand

from inventory.problems import Problem, Refused


class RefusingCommand(BaseCommand):
    """``work`` does it; a refusal is printed, all problems at once, and ends with status 1."""

    requires_migrations_checks = False

    def work(self, **options: Any) -> None:
        raise NotImplementedError

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.work(**options)
        except Refused as refused:
            self.complain(refused.problems)
            raise SystemExit(1) from None

    def complain(self, problems: Iterable[Problem]) -> None:
        for problem in problems:
            self.stderr.write(problem.message)

    def print_json(self, document: object) -> None:
        self.stdout.write(json.dumps(document, ensure_ascii=False, indent=1))
