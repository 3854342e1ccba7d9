"""A hundred thousand rows: memory, and queries that do not grow with the rows."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.databases import Database

ROWS = 100_000
MOST_MEGABYTES = 400
# Django gives SQLite at most 999 values in a statement: 111 sales of nine columns.
ROWS_IN_A_STATEMENT = 111
# Loads a folder as the command does; says how much memory it took at the most, and how many
# queries it made. Not by ru_maxrss, which begins with what the process that started it took.
PROGRAM = """
import json, re, sys
from pathlib import Path
import django
django.setup()
from django.core.management import call_command
from django.db import connection

count = 0
def counted(execute, sql, params, many, context):
    global count
    count += 1
    return execute(sql, params, many, context)

with connection.execute_wrapper(counted):
    call_command("load_workbook", sys.argv[1], stdout=sys.stderr)
peak = re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())
print(json.dumps({"queries": count, "megabytes": int(peak[1]) / 1024}))
"""
ITEMS = [f"SOUP{number:02}" for number in range(40)]
VANS = [f"VAN{number}" for number in range(5)]


def sales(count: int) -> Iterator[tuple[str, str, str, str]]:
    """Of every item at every van, day by day."""
    first = date(2025, 1, 1)
    for number in range(count):
        days, place = divmod(number, len(ITEMS) * len(VANS))
        van, item = divmod(place, len(ITEMS))
        sold = f"{number % 37}.5"
        yield VANS[van], f"{first + timedelta(days=days)}", ITEMS[item], sold


def book(folder: Path, count: int) -> Path:
    folder.mkdir()
    write(folder, "locations", "code name kind", ((van, van, "truck") for van in VANS))
    write(folder, "items", "code name kind unit", ((i, i, "menu", "each") for i in ITEMS))
    write(folder, "sales", "location date item qty", sales(count))
    return folder


def write(folder: Path, name: str, header: str, rows: Iterable[tuple[str, ...]]) -> None:
    with open(folder / f"{name}.csv", "w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(header.split())
        writer.writerows(rows)


def loaded(database: Database, path: Path) -> dict[str, float]:
    process = database.start("-c", PROGRAM, str(path))
    out, err = process.communicate()
    assert process.returncode == 0, err
    found: dict[str, float] = json.loads(out)
    return found


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read in /proc")
def test_a_hundred_thousand_rows(sqlite_database: Database, tmp_path: Path) -> None:
    """New, and once more where every row is there already."""
    path = book(tmp_path / "book", ROWS)
    for most in (100 + ROWS / ROWS_IN_A_STATEMENT, 100):
        told = loaded(sqlite_database, path)
        assert told["megabytes"] < MOST_MEGABYTES, told
        assert told["queries"] <= most, told
