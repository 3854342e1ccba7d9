"""Commands that say what is wrong on standard error and end with status 1."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from django.core.management.base import BaseCommand
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor

from inventory.problems import Problem, Refused

WRONG_WORDS = 2  # the status with which a command line that cannot be read ends


class RefusingCommand(BaseCommand):
    """``work`` does it; a refusal is printed, all problems at once, and ends with status 1."""

    requires_migrations_checks = False

    def work(self, **options: Any) -> None:
        raise NotImplementedError

    def prepare(self) -> None:
        """What must be true of the database before the work; here: its tables are there."""
        demand_tables()

    def run_from_argv(self, argv: list[str]) -> None:
        """A flag that cannot be read is bad input like any other: status 1."""
        try:
            super().run_from_argv(argv)
        except SystemExit as ended:
            raise SystemExit(1 if ended.code == WRONG_WORDS else ended.code) from None

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.prepare()
            self.work(**options)
        except Refused as refused:
            self.complain(refused.problems)
            raise SystemExit(1) from None

    def complain(self, problems: Iterable[Problem]) -> None:
        for problem in problems:
            self.stderr.write(problem.message)

    def print_json(self, document: object) -> None:
        self.stdout.write(json.dumps(document, ensure_ascii=False, indent=1))


def has_tables() -> bool:
    """Whether the database holds any table at all."""
    _reach()
    return bool(connection.introspection.table_names())


def demand_tables() -> None:
    """Raises ``Refused`` where the database cannot be reached or lacks tables of this version."""
    _reach()
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        message = "The database lacks tables of this version. Run manage.py migrate first."
        raise Refused(Problem("no_tables", message))


def _reach() -> None:
    try:
        connection.ensure_connection()
    except OperationalError as error:
        message = f"The database cannot be reached: {error}".strip()
        raise Refused(Problem("no_database", message)) from None
