"""A workbook in and out by the commands, alike on SQLite and on PostgreSQL."""

from __future__ import annotations

from pathlib import Path

from tests.databases import Database
from tests.purchasing.exchange.books import as_folder, as_xlsx, changed, small

NOTHING = "Everything in the workbook was there already. Nothing changed."


def test_loads_twice_and_saves_what_loads_again(database: Database, tmp_path: Path) -> None:
    book = as_xlsx(small(), tmp_path / "book.xlsx")
    assert database.manage("load_workbook", str(book)).startswith("Loaded.")
    assert database.manage("load_workbook", str(book)).strip() == NOTHING
    database.manage("save_workbook", str(tmp_path / "saved"))
    assert database.manage("load_workbook", str(tmp_path / "saved")).strip() == NOTHING
    later = as_folder(changed("sales", 2, qty="64"), tmp_path / "later")
    assert "sales                      0 new        1 changed" in database.manage(
        "load_workbook", str(later)
    )
    assert "count it instead" in _refusal(database, changed("stock", 2, qty="8"), tmp_path)
    assert database.manage("check_ledger").strip()


def test_what_is_saved_on_either_is_the_same_file(database: Database, tmp_path: Path) -> None:
    """Compared with what was typed, so with each other: text, order and digits."""
    folder = as_folder(small(), tmp_path / "book")
    database.manage("load_workbook", str(folder))
    database.manage("save_workbook", str(tmp_path / "saved"))
    for name in ("settings", "recipe_lines", "pars", "usage", "price_breaks"):
        typed = (folder / f"{name}.csv").read_text().splitlines()
        assert sorted((tmp_path / "saved" / f"{name}.csv").read_text().splitlines()) == sorted(
            typed
        )


def _refusal(database: Database, sheets: dict[str, list[dict[str, str]]], folder: Path) -> str:
    process = database.start("manage.py", "load_workbook", str(as_folder(sheets, folder / "bad")))
    out, err = process.communicate()
    assert (process.returncode, out) == (1, "")
    return err
