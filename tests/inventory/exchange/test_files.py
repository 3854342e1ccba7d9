"""Round trips through both kinds of file, and what holds for either."""

from __future__ import annotations

import csv
import tempfile
import tracemalloc
from collections.abc import Sequence
from datetime import date, datetime, time
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.exchange.csv_folder import as_meant, harmless
from inventory.exchange.files import RawRow, RawSheet, Table, read_book, write_book
from inventory.exchange.raw import plain
from inventory.problems import Problem, Refused

KINDS = ("book.xlsx", "book")
AWKWARD = (
    "=1+1",
    "+44 20",
    "-18",
    "-leek",
    "@home",
    "'=1+1",
    "''",
    "'",
    "'tis",
    "#N/A",
    "#REF!",
    "=",
    '"quoted"',
    "one\ntwo",
    "a,b;c",
    "\tindented",
    " spaces ",
    "0012",
    "1e5",
    "3.10",
    "2026-03-02",
    "yes",
    "naïve 餃子 🥟",
    "_x000D_",
    "<b>&amp;</b>",
)
Sheets = dict[str, tuple[tuple[str, ...], list[RawRow]]]


def whole_book(path: Path) -> Sheets:
    return {sheet.name: (sheet.header, list(sheet.rows)) for sheet in read_book(path)}


def messages(path: Path) -> list[str]:
    """Of the whole file, or else of its sheets; there must be one."""
    try:
        told = [problem for sheet in read_book(path) for problem in _of(sheet)]
    except Refused as refused:
        told = list(refused.problems)
    assert told
    return [problem.message for problem in told]


def _of(sheet: RawSheet) -> Sequence[Problem]:
    list(sheet.rows)
    return sheet.problems


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("text", AWKWARD)
def test_a_text_is_read_back_as_it_was_written(tmp_path: Path, name: str, text: str) -> None:
    path = tmp_path / name
    write_book(path, [Table("items", ("code", "name"), [("A", text), (text, None)])])
    header, rows = whole_book(path)["items"]
    assert header == ("code", "name")
    assert rows == [(2, ("A", text)), (3, (text, None))]


@settings(max_examples=30, deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            *[st.none() | st.text(max_size=12) | st.text("=+-@'\t\n\r\",;#1x", max_size=6)] * 2
        ),
        max_size=8,
    ),
    name=st.sampled_from(KINDS),
)
def test_any_text_is_read_back_but_for_characters_no_spreadsheet_holds(
    rows: list[tuple[str | None, str | None]], name: str
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write_book(path, [Table("notes", ("a", "b"), rows)])
        found = whole_book(path)["notes"][1]
    kept = [tuple(plain(cell) or None if cell else None for cell in row) for row in rows]
    expected = [
        (number, row)
        for number, row in enumerate(kept, 2)
        if any(cell and cell.strip() for cell in row)
    ]
    assert found == expected


@given(st.text(min_size=1))
def test_the_mark_against_formulas_is_taken_off_again(text: str) -> None:
    assert as_meant(harmless(text)) == text


def test_a_csv_cell_that_a_spreadsheet_would_calculate_gets_an_apostrophe(tmp_path: Path) -> None:
    rows = [("=1+1", "-18"), ("@x", "-18 C"), ("+1", "\tx")]
    write_book(tmp_path / "book", [Table("items", ("a", "b"), rows)])
    with open(tmp_path / "book" / "items.csv", encoding="utf-8", newline="") as stream:
        assert list(csv.reader(stream))[1:] == [
            ["'=1+1", "-18"],
            ["'@x", "'-18 C"],
            ["'+1", "'\tx"],
        ]


def test_an_xlsx_cell_that_begins_like_a_formula_is_text(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    write_book(path, [Table("items", ("a",), [("=1+1",), ("#N/A",)])])
    cells = [row[0] for row in openpyxl.load_workbook(path)["items"].iter_rows(min_row=2)]
    assert [(cell.value, cell.data_type) for cell in cells] == [("=1+1", "s"), ("#N/A", "s")]


def test_notes_and_drop_downs_are_in_the_empty_workbook(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    notes, choices = {"kind": "What it is"}, {"kind": ["menu", "prep"], "long": ["x" * 200] * 2}
    write_book(path, [Table("items", ("code", "kind", "long"), [], notes, choices)])
    sheet = openpyxl.load_workbook(path)["items"]
    assert sheet["A1"].comment is None
    assert sheet["B1"].comment is not None and sheet["B1"].comment.text == "What it is"
    [rule] = sheet.data_validations.dataValidation
    assert (rule.formula1, str(rule.sqref)) == ('"menu,prep"', "B2:B200001")
    assert whole_book(path) == {"items": (("code", "kind", "long"), [])}


@pytest.mark.parametrize("name", KINDS)
def test_a_text_too_long_for_a_cell_is_refused_and_nothing_is_left_behind(
    tmp_path: Path, name: str
) -> None:
    with pytest.raises(Refused, match=r"items!3 name: holds 32,768 characters; at most 32,767"):
        rows = [("A", "b"), ("B", "x" * 32_768)]
        write_book(tmp_path / name, [Table("items", ("code", "name"), rows)])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", KINDS)
def test_writing_again_replaces_the_sheets(tmp_path: Path, name: str) -> None:
    for text in ("old", "new"):
        write_book(tmp_path / name, [Table("items", ("code",), [(text,)])])
    assert whole_book(tmp_path / name)["items"][1] == [(2, ("new",))]
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("name", ["book.xls", "book.csv", "book.xlsm", "book.ods"])
def test_another_kind_of_file_is_not_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(Refused, match=r"name a file that ends in \.xlsx, or a folder"):
        write_book(tmp_path / name, [])


@pytest.mark.parametrize("name", KINDS)
def test_a_folder_that_is_not_there_is_named(tmp_path: Path, name: str) -> None:
    with pytest.raises(Refused, match="cannot be written"):
        write_book(tmp_path / "absent" / name, [Table("items", ("code",), [])])


@pytest.mark.parametrize("name", ["absent.xlsx", "absent"])
def test_a_missing_path_is_named(tmp_path: Path, name: str) -> None:
    assert messages(tmp_path / name) == [f"{tmp_path / name}: there is no such file or folder"]


def test_one_csv_file_is_answered_with_what_would_be_right(tmp_path: Path) -> None:
    (tmp_path / "items.csv").write_text("code\nA\n")
    assert messages(tmp_path / "items.csv") == [
        "items.csv: is one sheet; give the folder in which the .csv files lie"
    ]


def test_dates_times_numbers_and_yes_no_pass_through(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.create_sheet("stops")
    book.remove(book["Sheet"])
    sheet.append(["date", "opens", "at", "number", "flag", "price"])
    values = (
        date(2026, 3, 2),
        time(11, 30),
        datetime.fromisoformat("2026-03-02T06:00"),
        12,
        True,
        2.5,
    )
    sheet.append(values)
    book.save(tmp_path / "book.xlsx")
    [(_, row)] = whole_book(tmp_path / "book.xlsx")["stops"][1]
    assert row == (datetime.fromisoformat("2026-03-02"), *values[1:])


@pytest.mark.parametrize("name", KINDS)
def test_a_hundred_thousand_rows_are_never_in_memory_at_once(tmp_path: Path, name: str) -> None:
    rows = 100_000 if name == "book" else 5_000
    cells = ("x" * 40, "y" * 40)
    write_book(tmp_path / name, [Table("sales", ("a", "b"), (cells for _ in range(rows)))])
    tracemalloc.start()
    [count] = [sum(1 for _ in sheet.rows) for sheet in read_book(tmp_path / name)]
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert count == rows
    assert peak < 3_000_000
