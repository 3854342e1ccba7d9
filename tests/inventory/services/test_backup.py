"""Backup and restore, on SQLite and on PostgreSQL: all of it comes back, or nothing changes."""

from __future__ import annotations

import io
import json
import os
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.concurrency.nursery import Nursery
from tests.databases import Database
from tests.oracle.workbooks import write_folder
from tests.worker.due_work import write_book

HALL = {"locations": [{"code": "HALL", "name": "Guild hall", "kind": "kitchen"}]}


@pytest.fixture
def kitchen(database: Database, tmp_path: Path, nurseries: tuple[Nursery, Nursery]) -> Database:
    """With bookings, drafts and a file that somebody sent."""
    write_folder(HALL, tmp_path / "hall")
    nurseries[0].run(database, "load_workbook", str(write_book(tmp_path / "book")))
    nurseries[0].run(database, "reorder")
    (database.data_dir / "uploads").mkdir()
    (database.data_dir / "uploads" / "delivery.jpg").write_bytes(b"a photograph")
    return database


def uploads(database: Database) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in (database.data_dir / "uploads").iterdir()}


def test_what_was_backed_up_comes_back(
    kitchen: Database, tmp_path: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    nursery, file = nurseries[0], tmp_path / "kitchen.tar"
    before = nursery.after(kitchen)
    nursery.run(kitchen, "backup", str(file))
    assert nursery.after(kitchen) == before, "making a backup changes nothing"
    nursery.run(kitchen, "load_workbook", str(tmp_path / "hall"))
    (kitchen.data_dir / "uploads" / "delivery.jpg").write_bytes(b"another")
    (kitchen.data_dir / "uploads" / "later.jpg").write_bytes(b"later")
    nursery.run(kitchen, "restore", str(file))
    assert nursery.after(kitchen) == before
    assert uploads(kitchen) == {"delivery.jpg": b"a photograph"}


def test_a_restored_database_goes_on(
    kitchen: Database, tmp_path: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    """Numbers of new rows and the guards of the ledger come back with it."""
    nursery, file = nurseries[0], tmp_path / "kitchen.tar"
    nursery.run(kitchen, "backup", str(file))
    nursery.run(kitchen, "restore", str(file))
    after = nursery.after(kitchen, "load_workbook", str(tmp_path / "hall"))
    assert after["broken"] == []
    assert any(row["code"] == "HALL" for row in after["rows"]["inventory.Location"])


def bundle(file: Path, **members: bytes) -> None:
    with tarfile.open(file, "w") as tar:
        for name, content in members.items():
            member = tarfile.TarInfo(name.replace("label", "forepar-backup.json"))
            member.size = len(content)
            tar.addfile(member, io.BytesIO(content))


def no_file(good: Path, file: Path, kind: str) -> None:
    """There is none."""


def no_archive(good: Path, file: Path, kind: str) -> None:
    file.write_bytes(b"not an archive" * 100)


def cut_short(good: Path, file: Path, kind: str) -> None:
    file.write_bytes(good.read_bytes()[: good.stat().st_size // 2])


def a_folder(good: Path, file: Path, kind: str) -> None:
    file.mkdir()


def no_label(good: Path, file: Path, kind: str) -> None:
    bundle(file, database=b"x")


def unreadable_label(good: Path, file: Path, kind: str) -> None:
    bundle(file, database=b"x", label=b"\xff{")


def label_that_is_a_list(good: Path, file: Path, kind: str) -> None:
    bundle(file, database=b"x", label=b"[]")


def another_kind(good: Path, file: Path, kind: str) -> None:
    other = "sqlite" if kind == "postgresql" else "postgresql"
    bundle(file, database=b"x", label=json.dumps({"format": 1, "database": other}).encode())


def no_database(good: Path, file: Path, kind: str) -> None:
    label = json.dumps({"format": 1, "database": kind}).encode()
    bundle(file, database=b"no database at all" * 300, label=label)


def damaged_database(good: Path, file: Path, kind: str) -> None:
    with tarfile.open(good) as tar:
        member = tar.extractfile("database")
        assert member is not None
        content = bytearray(member.read())
    middle = len(content) // 2
    content[middle : middle + 20_000] = os.urandom(20_000)
    bundle(
        file,
        database=bytes(content),
        label=json.dumps({"format": 1, "database": kind}).encode(),
    )


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (no_file, "There is no file"),
        (no_archive, "is not a backup that can be read"),
        (cut_short, "is not a backup that can be read"),
        (a_folder, "is not a backup that can be read"),
        (no_label, "was not made by the backup command"),
        (unreadable_label, "was not made by the backup command"),
        (label_that_is_a_list, "was not made by the backup command"),
        (another_kind, "Use save_workbook and load_workbook to move between the two"),
        (no_database, "Nothing was changed"),
        (damaged_database, "Nothing was changed"),
    ],
)
def test_what_is_no_sound_backup_is_refused_and_nothing_changes(
    spoil: Callable[[Path, Path, str], None],
    sentence: str,
    kitchen: Database,
    tmp_path: Path,
    nurseries: tuple[Nursery, Nursery],
) -> None:
    nursery, good, bad = nurseries[0], tmp_path / "good.tar", tmp_path / "bad.tar"
    nursery.run(kitchen, "backup", str(good))
    before = nursery.after(kitchen), uploads(kitchen)
    spoil(good, bad, "postgresql" if kitchen.is_postgres else "sqlite")
    nursery.begin(kitchen, "restore", str(bad))
    ended = nursery.end()
    assert (ended.status, ended.out) == (1, "")
    assert sentence in ended.err
    assert "Traceback" not in ended.err
    assert (nursery.after(kitchen), uploads(kitchen)) == before


def test_a_backup_into_a_folder_that_is_not_there_is_refused(
    kitchen: Database, tmp_path: Path, nurseries: tuple[Nursery, Nursery]
) -> None:
    nurseries[0].begin(kitchen, "backup", str(tmp_path / "nowhere" / "kitchen.tar"))
    ended = nurseries[0].end()
    assert ended.status == 1
    assert "Make it first." in ended.err
