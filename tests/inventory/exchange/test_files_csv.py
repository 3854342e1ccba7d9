"""A folder of .csv files: what is accepted, and what is refused with what sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from inventory.exchange import csv_folder
from inventory.exchange.files import read_book
from tests.inventory.exchange.test_files import messages, whole_book


def folder(path: Path, **files: str | bytes) -> Path:
    for name, content in files.items():
        data = content.encode() if isinstance(content, str) else content
        (path / f"{name}.csv").write_bytes(data)
    return path


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"code,name\nA,Leek\n", id="plain"),
        pytest.param(b"\xef\xbb\xbfcode,name\nA,Leek\n", id="byte order mark"),
        pytest.param(b"code,name\r\nA,Leek\r\n", id="CRLF"),
        pytest.param(b"code,name\rA,Leek\r", id="CR"),
        pytest.param(b"code;name\nA;Leek\n", id="semicolons"),
        pytest.param(b'"code";"name"\n"A";"Leek"\n', id="quoted semicolons"),
        pytest.param(b"code,name\nA,Leek", id="no end of line"),
        pytest.param(b"code,name,,\nA,Leek,,\n,,,\n\n  ,\n", id="blank tails"),
        pytest.param(b" code , name \nA,Leek\n", id="spaces in the header"),
    ],
)
def test_these_files_are_the_same_sheet(tmp_path: Path, content: bytes) -> None:
    sheets = whole_book(folder(tmp_path, items=content))
    assert sheets == {"items": (("code", "name"), [(2, ("A", "Leek"))])}


def test_blank_rows_are_skipped_and_rows_keep_their_number(tmp_path: Path) -> None:
    content = 'code,note\nA,"one\r\ntwo"\n\n,\nB\n'
    assert whole_book(folder(tmp_path, items=content))["items"][1] == [
        (2, ("A", "one\ntwo")),
        (5, ("B", None)),
    ]


def test_semicolons_inside_a_quoted_name_do_not_make_a_semicolon_file(tmp_path: Path) -> None:
    sheets = whole_book(folder(tmp_path, items='"a;b;c",d\n1,2\n'))
    assert sheets["items"] == (("a;b;c", "d"), [(2, ("1", "2"))])


@pytest.mark.parametrize(
    ("content", "said"),
    [
        pytest.param(
            b"code\nA\nr\xe9sum\xe9\n",
            "items.csv: line 3 is not UTF-8 text; save the file again as CSV (UTF-8)",
            id="wrong encoding",
        ),
        pytest.param(
            "code\nA\n".encode("utf-16"),
            "items.csv: line 1 is not UTF-8 text; save the file again as CSV (UTF-8)",
            id="UTF-16",
        ),
        pytest.param(
            b"code\nA\0\n",
            "items.csv: line 2 holds a zero byte; save the file again as CSV (UTF-8)",
            id="zero byte",
        ),
        pytest.param(
            b'code\nA\n"B\nC\n',
            "items!3: a quotation mark is opened and not closed, or a cell is too long; "
            'write a quotation mark inside a quoted cell twice ("")',
            id="unclosed quote",
        ),
        pytest.param(
            b'code\n"A"B\n',
            "items!2: a closing quotation mark is followed by something else than the next cell; "
            'write a quotation mark inside a quoted cell twice ("")',
            id="text after a quote",
        ),
        pytest.param(
            b"code,name,code\nA,b,c\n",
            "items!1 code: is the name of columns A and C; keep one of them",
            id="double header",
        ),
        pytest.param(
            b"code,,name\nA,b,c\n",
            "items!1 column B: has no name in row 1; name the column or take it out",
            id="empty header cell",
        ),
        pytest.param(
            b"\ncode\nA\n",
            "items!1: row 1 is empty; it must hold the column names",
            id="header not in row 1",
        ),
        pytest.param(
            b"code\nA\nB,,x\n",
            "items!3 column C: has a value, but row 1 has no name for the column; "
            "name it or empty the cell",
            id="beyond the header",
        ),
        pytest.param(
            b"code,name\nA," + b"x" * 40_000 + b"\n",
            "items!2 name: holds 40,000 characters; at most 32,767 fit",
            id="long cell",
        ),
        pytest.param(
            ",".join(f"c{i}" for i in range(101)).encode(),
            "items!1: a sheet may have 100 columns; take out what is not a column of it",
            id="too many columns",
        ),
        pytest.param(
            b"code\n" + b"x\n" * 200_001,
            "items!200002: a sheet may have 200,000 rows; split the file and load the parts in "
            "turn",
            id="too many rows",
        ),
    ],
)
def test_a_file_is_refused_with_what_would_be_right(
    tmp_path: Path, content: bytes, said: str
) -> None:
    assert messages(folder(tmp_path, items=content)) == [said]


@pytest.mark.parametrize("quote", ["", '"'])
def test_a_cell_of_fifty_megabytes_is_not_read_into_memory(tmp_path: Path, quote: str) -> None:
    line = "x" * 1_000_000 + ("\n" if quote else "")
    with open(tmp_path / "items.csv", "w") as stream:
        stream.write(f"code\n{quote}")
        for _ in range(50):
            stream.write(line)
    [said] = messages(tmp_path)
    assert said.startswith("items!2: a quotation" if quote else "items.csv: line 2 is longer than")


def test_a_folder_of_too_many_megabytes_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csv_folder, "MOST_UNPACKED", 10)
    [said] = messages(folder(tmp_path, items="code\nA\n", menu="code\nA\n"))
    assert said.endswith("load them in parts")


def test_a_file_without_a_character_is_a_sheet_that_is_absent(tmp_path: Path) -> None:
    folder(tmp_path, items="code\nA\n", menu=b"", stops=b"\xef\xbb\xbf\r\n")
    assert [sheet.name for sheet in read_book(tmp_path)] == ["items"]


def test_problems_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    folder(tmp_path, items="code,code\nA,b\n", menu=b"\ncode\n", stops=b"\xff\n", fine="code\nA\n")
    (tmp_path / "odd.csv").mkdir()
    (tmp_path / "link.csv").symlink_to(tmp_path / "fine.csv")
    assert messages(tmp_path) == [
        "items!1 code: is the name of columns A and B; keep one of them",
        "link.csv: is a symbolic link; put the file itself into the folder",
        "menu!1: row 1 is empty; it must hold the column names",
        "odd.csv: is not a file; put a .csv file of this name into the folder",
        "stops.csv: line 1 is not UTF-8 text; save the file again as CSV (UTF-8)",
    ]


def test_files_of_other_kinds_are_left_aside_and_said_so(tmp_path: Path) -> None:
    folder(tmp_path, items="code\nA\n")
    (tmp_path / "notes.txt").write_text("x")
    (tmp_path / "older").mkdir()
    assert [warning.message for sheet in read_book(tmp_path) for warning in sheet.warnings] == [
        "notes.txt: is not a .csv file and was left aside; save a sheet as CSV (UTF-8)",
        "older: is not a .csv file and was left aside; save a sheet as CSV (UTF-8)",
    ]


def test_hidden_files_and_what_systems_leave_behind_are_passed_over(tmp_path: Path) -> None:
    folder(tmp_path, items="code\nA\n")
    for name in (".DS_Store", "Thumbs.db", "~$items.csv", "desktop.ini"):
        (tmp_path / name).write_text("x")
    assert list(whole_book(tmp_path)) == ["items"]


def test_a_folder_without_csv_files_is_refused(tmp_path: Path) -> None:
    assert messages(tmp_path) == [
        f"{tmp_path.name}: the folder holds no .csv file; there must be one for each sheet"
    ]


def test_a_long_list_of_problems_of_one_file_is_cut_short(tmp_path: Path) -> None:
    said = messages(folder(tmp_path, items="code\n" + "A,b\n" * 500))
    assert len(said) == 101
    assert said[-1] == "items.csv: there may be more; correct these first"
