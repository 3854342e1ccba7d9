"""Several ticks at once do the work once."""

from __future__ import annotations

import json
from pathlib import Path

from tests.concurrency.nursery import Nursery
from tests.databases import Database
from tests.worker.due_work import ask_for_drafts, done, drafts, write_book


def test_two_ticks_at_once_do_the_work_once(
    database: Database, tmp_path: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    nurseries[0].run(database, "load_workbook", str(write_book(tmp_path / "book")))
    ask_for_drafts(database)
    for one in nurseries:
        one.begin(database, "tick", "--json")
    ended = [one.end() for one in nurseries]
    assert [one.status for one in ended] == [0, 0], [one.err for one in ended]
    counts = sorted(json.loads(one.out)["done"] for one in ended)
    assert counts[0] == 0
    assert counts[1] >= 1  # moments before today's cutoff may have come as well
    assert done(database)
    assert drafts(database) == 1
