"""A command that is killed half-way leaves a clean ledger, and a second try gives the state of
an undisturbed one.

``FOREPAR_KILLS`` says how often each command is killed on each kind of database.
"""

from __future__ import annotations

import os
import random
import signal
import time
from contextlib import suppress
from pathlib import Path

import pytest

from tests.concurrency.conftest import Databases
from tests.concurrency.nursery import Nursery
from tests.databases import Database
from tests.oracle.workbooks import generate, write_folder

KILLS = int(os.environ.get("FOREPAR_KILLS", "5"))
BOOK = generate("A", 12, large=True)


def timed(nursery: Nursery, database: Database, words: tuple[str, ...]) -> float:
    """Seconds that the command takes undisturbed."""
    start = time.monotonic()
    nursery.run(database, *words)
    return time.monotonic() - start


def kill_half_way(
    nursery: Nursery, database: Database, words: tuple[str, ...], seconds: float
) -> bool:
    """Whether it was still at work after ``seconds``."""
    number = nursery.begin(database, *words)
    time.sleep(seconds)
    with suppress(ProcessLookupError):  # it may have been quicker than last time
        os.kill(number, signal.SIGKILL)
    return nursery.end().status == -signal.SIGKILL


@pytest.mark.parametrize("act", ["load_workbook", "reorder"])
def test_killed_at_random_moments(
    act: str, databases: Databases, tmp_path: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    nursery, _ = nurseries
    write_folder(BOOK.sheets, tmp_path / "book")
    load = ("load_workbook", str(tmp_path / "book"))
    words = load if act == "load_workbook" else ("reorder", "--as-of", BOOK.as_of, "--json")
    before = databases.copy(databases.first)
    if act == "reorder":
        nursery.run(before, *load)
    undisturbed = databases.copy(before)
    seconds = timed(nursery, undisturbed, words)
    expected = nursery.after(undisturbed, *words)
    assert expected["broken"] == []
    moments, killed = random.Random(f"{act} 2026"), 0
    while killed < KILLS:
        database = databases.copy(before)
        moment = seconds * moments.random()
        killed += kill_half_way(nursery, database, words, moment)
        found = nursery.after(database, *words)
        assert found["broken"] == [], f"killed after {moment:.3f} s"
        assert found["rows"] == expected["rows"], f"killed after {moment:.3f} s"
        if act == "reorder":
            assert found["out"] == expected["out"], f"killed after {moment:.3f} s"
