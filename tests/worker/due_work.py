"""A kitchen with something to order whenever it is looked at, and its queue of due moments."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg

from tests.databases import Database
from tests.oracle.workbooks import write_folder

EVERY_DAY = "mon;tue;wed;thu;fri;sat;sun"


def write_book(folder: Path) -> Path:
    """Leeks are needed on each of the next days, and can be had every day."""
    today = datetime.now(UTC).date()
    days = [today + timedelta(days=n) for n in range(1, 6)]
    supplier = {"code": "GRO", "name": "Marsh Growers", "cutoff": "23:59", "lead_days": "1"}
    sheets = {
        "settings": [{"key": "time_zone", "value": "UTC"}],
        "locations": [{"code": "COM", "name": "Yard kitchen", "kind": "commissary"}],
        "items": [{"code": "LEEK", "name": "Leeks", "kind": "ingredient", "unit": "kg"}],
        "suppliers": [{**supplier, "order_days": EVERY_DAY, "delivery_days": EVERY_DAY}],
        "supplier_items": [
            {"supplier": "GRO", "item": "LEEK", "pack_qty": "5", "pack_unit": "kg", "price": "9"}
        ],
        "bookings": [
            {"location": "COM", "date": f"{day}", "item": "LEEK", "qty": "7", "unit": "kg"}
            for day in days
        ],
    }
    write_folder(sheets, folder)
    return folder


def ask_for_drafts(database: Database) -> None:
    """A change that the next tick must look at."""
    rows(
        database,
        "INSERT INTO purchasing_duemoment (key, kind, due_at, claimed_by) "
        "VALUES ('change:1', 'change', '2026-01-01 00:00:00', '') RETURNING id",
    )


def done(database: Database) -> bool:
    (when,) = rows(database, "SELECT done_at FROM purchasing_duemoment WHERE key = 'change:1'")
    return when[0] is not None


def claimed(database: Database) -> bool:
    (by,) = rows(database, "SELECT claimed_by FROM purchasing_duemoment WHERE key = 'change:1'")
    return bool(by[0])


def drafts(database: Database) -> int:
    ((count,),) = rows(database, "SELECT count(*) FROM purchasing_purchaseorder")
    return int(count)


def rows(database: Database, statement: str) -> list[Any]:
    if not database.is_postgres:
        file = database.url.removeprefix("sqlite:///")
        with closing(sqlite3.connect(file, timeout=20)) as connection, connection:
            return connection.execute(statement).fetchall()
    with psycopg.connect(database.url, autocommit=True) as server:
        return server.execute(statement.encode()).fetchall()
