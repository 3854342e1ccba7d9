"""Commands on a database that nobody has prepared, and with flags that cannot be read."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]


def manage(database: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=os.environ | {"DATABASE_URL": f"sqlite:///{database}"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("words", ["reorder --json", "check_ledger --json", "tick"])
def test_without_tables_a_command_says_how_to_make_them(tmp_path: Path, words: str) -> None:
    ran = manage(tmp_path / "kitchen.sqlite3", *words.split())
    assert (ran.returncode, ran.stdout) == (1, "")
    assert ran.stderr == (
        "The database lacks tables of this version. Run manage.py migrate first.\n"
    )


def test_an_empty_database_is_not_backed_up(tmp_path: Path) -> None:
    ran = manage(tmp_path / "mistyped.sqlite3", "backup", str(tmp_path / "copy.tar"))
    assert ran.returncode == 1
    assert ran.stderr == "The database is empty. Look at DATABASE_URL.\n"
    assert not (tmp_path / "copy.tar").exists()


def test_a_workbook_loads_into_a_database_without_tables(tmp_path: Path) -> None:
    book = tmp_path / "book"
    book.mkdir()
    (book / "locations.csv").write_text("code,name,kind\nCOM,Kitchen,commissary\n")
    ran = manage(tmp_path / "kitchen.sqlite3", "load_workbook", str(book), "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert json.loads(ran.stdout)["sheets"]["locations"]["added"] == 1


def test_a_flag_that_cannot_be_read_is_bad_input(tmp_path: Path) -> None:
    ran = manage(tmp_path / "kitchen.sqlite3", "expiring", "--days", "many")
    assert (ran.returncode, ran.stdout) == (1, "")
    assert "invalid int value: 'many'" in ran.stderr
