"""Tables that only grow: the database itself refuses an update or a delete.

Triggers vanish when SQLite rebuilds a table in a migration, so they are made again after
every migrate, and ``missing`` lists those that are not there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

# Table and the sentence with which it refuses.
SENTENCES = {
    "inventory_movement": "A movement is never changed or deleted: reverse it instead.",
    "inventory_event": "An event is never changed or deleted: it says what was done.",
}
_EVENTS = {
    "sqlite": ("update", "delete"),
    # A table can be emptied there without deleting a row.
    "postgresql": ("update", "delete", "truncate"),
}


@dataclass(frozen=True, slots=True)
class Trigger:
    table: str
    event: str  # update, delete or truncate

    @property
    def name(self) -> str:
        return f"{self.table}_no_{self.event}"


def triggers(vendor: str) -> tuple[Trigger, ...]:
    """Every trigger that belongs in a database of this vendor."""
    return tuple(Trigger(table, event) for table in SENTENCES for event in _EVENTS[vendor])


def install(connection: BaseDatabaseWrapper) -> None:
    """(Re)create the triggers; safe to run again."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for trigger in triggers(connection.vendor):
            if trigger.table in tables:
                for statement in _creating(trigger, connection.vendor):
                    cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper) -> None:
    """For tests that empty tables or plant faults."""
    with connection.cursor() as cursor:
        for trigger in triggers(connection.vendor):
            cursor.execute(_dropping(trigger, connection.vendor))


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of triggers that are not there, or are switched off."""
    with connection.cursor() as cursor:
        cursor.execute(_PRESENT[connection.vendor])
        present = {row[0] for row in cursor.fetchall()}
    return [trigger.name for trigger in triggers(connection.vendor) if trigger.name not in present]


def install_after_migrate(*, using: str, **kwargs: Any) -> None:
    """Receiver of ``post_migrate``."""
    install(connections[using])


_PRESENT = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'",
}


def _creating(trigger: Trigger, vendor: str) -> Iterator[str]:
    sentence = SENTENCES[trigger.table]
    if vendor == "sqlite":
        yield (
            f"CREATE TRIGGER IF NOT EXISTS {trigger.name} BEFORE {trigger.event} "
            f"ON {trigger.table} BEGIN SELECT RAISE(ABORT, '{sentence}'); END"
        )
        return
    yield (
        f"CREATE OR REPLACE FUNCTION {trigger.table}_only_grows() RETURNS trigger AS $$ BEGIN "
        f"RAISE EXCEPTION USING ERRCODE = 'integrity_constraint_violation', "
        f"MESSAGE = '{sentence}'; END $$ LANGUAGE plpgsql"
    )
    each = "STATEMENT" if trigger.event == "truncate" else "ROW"
    yield (
        f"CREATE OR REPLACE TRIGGER {trigger.name} BEFORE {trigger.event} ON {trigger.table} "
        f"FOR EACH {each} EXECUTE FUNCTION {trigger.table}_only_grows()"
    )


def _dropping(trigger: Trigger, vendor: str) -> str:
    where = "" if vendor == "sqlite" else f" ON {trigger.table}"
    return f"DROP TRIGGER IF EXISTS {trigger.name}{where}"
