"""Two processes at once do what one does, on SQLite and on PostgreSQL."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.concurrency.nursery import Nursery
from tests.databases import Database
from tests.oracle.workbooks import generate, write_folder

BOOK = generate("A", 11)
REORDER = ("reorder", "--as-of", BOOK.as_of, "--json")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_folder(BOOK.sheets, tmp_path / "book")
    return tmp_path / "book"


def at_once(nurseries: tuple[Nursery, Nursery], database: Database, *words: str) -> list[str]:
    for one in nurseries:
        one.begin(database, *words)
    ended = [one.end() for one in nurseries]
    assert [one.status for one in ended] == [0, 0], [one.err for one in ended]
    return [one.out for one in ended]


def test_two_runs_at_once_give_one_set_of_drafts(
    database: Database, folder: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    nurseries[0].run(database, "load_workbook", str(folder))
    outputs = at_once(nurseries, database, *REORDER)
    again = nurseries[0].after(database, *REORDER)
    assert {*outputs} == {again["out"]}
    rows = again["rows"]
    drafts = [row for row in rows["purchasing.PurchaseOrder"] if row["status"] == "draft"]
    told = json.loads(again["out"])["orders"]
    assert sorted(row["number"] for row in drafts) == sorted(order["number"] for order in told)
    assert len(rows["purchasing.ReorderRun"]) == 1
    assert again["broken"] == []


def test_one_workbook_loaded_twice_at_once_is_loaded_once(
    database: Database, folder: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    load = ("load_workbook", str(folder))
    outputs = at_once(nurseries, database, *load)
    # whoever comes second finds everything there
    assert sorted(out.splitlines()[0] for out in outputs) == [
        "Everything in the workbook was there already. Nothing changed.",
        "Loaded.",
    ]
    again = nurseries[0].after(database, *load)
    assert "Nothing changed" in again["out"]
    assert len(again["rows"]["inventory.Lot"]) == len(BOOK.sheets["stock"])
    assert again["broken"] == []
