from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from inventory import append_only
from inventory.models import Event, Movement
from tests import factories as make
from tests.databases import Database
from tests.factories import NOW


@pytest.fixture
def rows(db: None) -> None:
    make.lot(5, at=make.location())
    Event.objects.create(verb="look", subject="lot:X", at=NOW)


@pytest.mark.parametrize("table", append_only.SENTENCES)
@pytest.mark.parametrize("act", ["UPDATE {} SET id = id + 100", "DELETE FROM {}"])
def test_a_change_is_refused_with_a_sentence(rows: None, table: str, act: str) -> None:
    with (
        pytest.raises(IntegrityError, match=append_only.SENTENCES[table].split(":")[0]),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(act.format(table))
    assert Movement.objects.count() == Event.objects.count() == 1


def test_the_side_doors_of_the_tables_are_shut(rows: None) -> None:
    for act in (
        lambda: Movement.objects.update(reason="x"),
        lambda: Movement.objects.all().delete(),
        lambda: Movement.objects.get().save(),
        lambda: Event.objects.update(verb="x"),
    ):
        with pytest.raises(IntegrityError, match="is never changed"), transaction.atomic():
            act()


def test_no_trigger_is_missing(db: None) -> None:
    assert append_only.missing(connection) == []


def test_dropped_triggers_are_missed_and_made_again(db: None) -> None:
    append_only.remove(connection)
    assert len(append_only.missing(connection)) == len(append_only.triggers(connection.vendor))
    append_only.install(connection)
    append_only.install(connection)
    assert append_only.missing(connection) == []


@pytest.mark.django_db(transaction=True)
def test_a_migrate_makes_them_again() -> None:
    append_only.remove(connection)
    call_command("migrate", verbosity=0)
    assert append_only.missing(connection) == []


@pytest.mark.django_db(transaction=True)
def test_tables_that_a_migration_rebuilt_refuse_changes_again() -> None:
    make.lot(5, at=make.location())
    if connection.vendor == "sqlite":  # only SQLite rebuilds a table to change it
        with connection.schema_editor() as editor:
            editor._remake_table(Movement)  # type: ignore[attr-defined]  # as a migration does
    else:
        append_only.remove(connection)
    assert "inventory_movement_no_update" in append_only.missing(connection)
    call_command("migrate", verbosity=0)
    with pytest.raises(IntegrityError, match="A movement is never changed"):
        Movement.objects.update(reason="x")


@pytest.mark.django_db(transaction=True)
def test_a_table_cannot_be_emptied_at_once_either() -> None:
    empty = {"sqlite": "DELETE FROM", "postgresql": "TRUNCATE"}[connection.vendor]
    Event.objects.create(verb="look", subject="lot:X", at=NOW)
    with (
        pytest.raises(IntegrityError, match="never changed or deleted"),
        connection.cursor() as cursor,
    ):
        cursor.execute(f"{empty} inventory_event")


def test_a_migrated_database_refuses_an_update(database: Database) -> None:
    """As an operator would try it, from outside."""
    script = (
        "import django; django.setup(); from django.db import connection as c;"
        "from tests import factories as make; make.lot(5, at=make.location());"
        "c.cursor().execute('UPDATE inventory_movement SET qty = 1')"
    )
    process = database.start("-c", script, DJANGO_SETTINGS_MODULE="config.settings")
    _, errors = process.communicate()
    assert process.returncode == 1
    assert "A movement is never changed or deleted: reverse it instead." in errors
