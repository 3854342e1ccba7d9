"""The command that shows everything: an empty database, one command, drafts and lots."""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from inventory.models import Location
from tests.databases import Database

MONDAY, AN_HOUR_LATER = "2026-03-02T06:00", "2026-03-02T07:00"
TRUCKS = {"PLEAT", "LADLE", "HEARTH", "GRIDDLE", "BASKET"}
STORED = 10**9  # a piece, as SQLite keeps quantities
# Tables that every planning run adds to or that the framework keeps for itself.
_MOVING = ("purchasing_", "django_", "auth_", "sqlite_")


@pytest.fixture(scope="module")
def database(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Database:
    folder = tmp_path_factory.mktemp("demo")
    file = folder / "kitchen.sqlite3"
    shutil.copy(sqlite_template, file)
    return Database(f"sqlite:///{file}", folder)


@pytest.fixture(scope="module")
def first(database: Database) -> dict[str, Any]:
    """What the first run prints as JSON: one document, or this cannot be read."""
    printed = database.manage("demo", "--no-serve", "--json", "--as-of", MONDAY)
    document: dict[str, Any] = json.loads(printed)
    return document


def _rows(database: Database, sql: str) -> list[tuple[Any, ...]]:
    with sqlite3.connect(database.data_dir / "kitchen.sqlite3") as connection:
        return connection.execute(sql).fetchall()


def _counts(database: Database) -> dict[str, int]:
    tables = [
        name for (name,) in _rows(database, "SELECT name FROM sqlite_master WHERE type='table'")
    ]
    kept = [name for name in tables if not name.startswith(_MOVING)]
    return {name: _rows(database, f'SELECT count(*) FROM "{name}"')[0][0] for name in kept}


def test_an_empty_database_ends_with_drafts_and_lots(
    database: Database, first: dict[str, Any]
) -> None:
    assert set(first) == {"reorder", "expiring"}
    assert len(first["reorder"]["orders"]) >= 5
    assert all(order["lines"] for order in first["reorder"]["orders"])
    drafts = _rows(database, "SELECT number FROM purchasing_purchaseorder WHERE status='draft'")
    assert {number for (number,) in drafts} == {o["number"] for o in first["reorder"]["orders"]}


def test_some_lots_are_worth_a_look(first: dict[str, Any]) -> None:
    at_risk = [
        lot
        for lot in first["expiring"]["lots"]
        if float(lot["expected_waste_value"] or 0) > 1 and lot["days_left"] >= 0
    ]
    assert 5 <= len(at_risk) <= 30


def test_no_made_lot_is_many_times_a_days_use(database: Database, first: dict[str, Any]) -> None:
    """A morning's stock of what lives two days: nobody fills more than three hundred breads."""
    rows = _rows(
        database,
        "SELECT i.code, sum(o.qty) FROM inventory_onhand o JOIN inventory_item i"
        " ON i.id = o.item_id WHERE i.code LIKE '%-FLATBREAD' GROUP BY i.code",
    )
    assert rows
    assert all(float(qty) / STORED <= 300 for _, qty in rows), rows


def test_orders_are_of_a_size_that_a_small_kitchen_takes_in(first: dict[str, Any]) -> None:
    lines = [line for order in first["reorder"]["orders"] for line in order["lines"]]
    assert max(int(line["cases"]) for line in lines) <= 24
    assert max(float(order["value"]) for order in first["reorder"]["orders"]) < 2500


def test_all_five_trucks_go_out(database: Database, first: dict[str, Any]) -> None:
    at_stops = _rows(
        database,
        "SELECT DISTINCT l.code FROM inventory_stop s JOIN inventory_location l"
        " ON l.id = s.location_id",
    )
    assert {code for (code,) in at_stops} == TRUCKS


def test_a_second_run_loads_nothing_and_follows_time(
    database: Database, first: dict[str, Any]
) -> None:
    before = _counts(database)
    again = json.loads(database.manage("demo", "--no-serve", "--json", "--as-of", AN_HOUR_LATER))
    assert first["reorder"]["as_of"].startswith(MONDAY)
    assert again["reorder"]["as_of"].startswith(AN_HOUR_LATER)
    assert _counts(database) == before


def test_people_read_sheets_and_strips(database: Database, first: dict[str, Any]) -> None:
    text = database.manage("demo", "--no-serve", "--as-of", AN_HOUR_LATER)
    assert text.startswith("Pleat & Ladle: orders due")
    assert "Pleat & Ladle: what expires soonest" in text
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize("wrong", ["tomorrow", "2026-13-01T06:00", "06:00"])
def test_a_wrong_moment_is_refused_with_a_sentence(
    db: None, settings: Settings, wrong: str
) -> None:
    settings.DEBUG = True
    with pytest.raises(CommandError) as refused:
        call_command("demo", "--no-serve", "--as-of", wrong)
    assert str(refused.value) == (
        f"--as-of: '{wrong}' is not a moment; a moment is YYYY-MM-DDTHH:MM"
    )
    assert not Location.objects.exists()


def test_where_strangers_come_by_there_is_no_demo(db: None, settings: Settings) -> None:
    settings.DEBUG = False
    with pytest.raises(CommandError, match="anybody sign in as anybody"):
        call_command("demo", "--no-serve")
    assert not Location.objects.exists()
