"""An .xlsx file: what is accepted, and what is refused with what sentence."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import datetime, time, timedelta
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from inventory.exchange import xlsx_scan
from inventory.exchange.files import UNCALCULATED, read_book
from tests.inventory.exchange.test_files import messages, whole_book

SHEET = "xl/worksheets/sheet1.xml"
MAIN = xlsx_scan.MAIN
Change = Callable[[str], str]


def saved(path: Path, *rows: list[object], name: str = "items") -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = name
    for row in rows:
        sheet.append(row)
    book.save(path / "book.xlsx")
    return path / "book.xlsx"


def rebuilt(path: Path, changes: dict[str, str | bytes | Change]) -> Path:
    """The package with parts replaced, changed or added."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for name, change in changes.items():
        made = change(parts[name].decode()) if callable(change) else change
        parts[name] = made.encode() if isinstance(made, str) else made
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def with_sheet(path: Path, rows: str, before: str = "") -> Path:
    xml = f'{before}<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'
    return rebuilt(saved(path, ["code"]), {SHEET: xml})


def text_row(number: int, **cells: str) -> str:
    inside = "".join(
        f'<c r="{column}{number}" t="inlineStr"><is><t>{text}</t></is></c>'
        for column, text in cells.items()
    )
    return f'<row r="{number}">{inside}</row>'


def test_blank_rows_and_columns_are_dropped_and_rows_keep_their_number(tmp_path: Path) -> None:
    path = saved(tmp_path, ["code", "name", None], ["A"], [], [" "], ["B", "Leek", "  "], [None])
    rows = [(2, ("A", None)), (5, ("B", "Leek"))]
    assert whole_book(path) == {"items": (("code", "name"), rows)}


def test_a_formula_never_calculated_is_marked(tmp_path: Path) -> None:
    path = saved(tmp_path, ["code", "qty"], ["A", "=1+1"], ["B", 2])
    assert whole_book(path)["items"][1] == [(2, ("A", UNCALCULATED)), (3, ("B", 2))]


def test_a_calculated_formula_is_its_value_and_an_empty_text_is_blank(tmp_path: Path) -> None:
    rows = text_row(1, A="a", B="b") + (
        '<row r="2"><c r="A2"><f>1+1</f><v>2</v></c><c r="B2" t="str"><f>""</f><v></v></c></row>'
    )
    assert whole_book(with_sheet(tmp_path, rows))["items"][1] == [(2, (2, None))]


def test_a_column_name_never_calculated_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, ["code", "=A1", "name"], ["A", "b", "c"])
    assert (
        "items!1 column B: is a formula without a value; open and save the file once, or type "
        "the name"
    ) in messages(path)


def test_the_1904_date_system_is_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    assert sheet is not None
    sheet.title = "stops"
    sheet.append(["date"])
    sheet.append([datetime.fromisoformat("2026-03-02")])
    book.save(tmp_path / "book.xlsx")
    assert whole_book(tmp_path / "book.xlsx")["stops"][1] == [
        (2, (datetime.fromisoformat("2026-03-02"),))
    ]


@pytest.mark.parametrize(
    ("duration", "read"),
    [(timedelta(hours=11, minutes=30), time(11, 30)), (timedelta(hours=26), "26:00:00")],
)
def test_a_duration_within_a_day_is_a_time(
    tmp_path: Path, duration: timedelta, read: time | str
) -> None:
    path = saved(tmp_path, ["opens"], [duration])
    assert whole_book(path)["items"][1] == [(2, (read,))]


def test_a_date_outside_the_calendar_does_not_stop_the_reading(tmp_path: Path) -> None:
    path = saved(tmp_path, ["date"], [datetime.fromisoformat("2026-03-02")])
    path = rebuilt(path, {SHEET: lambda xml: xml.replace("<v>46083</v>", "<v>99999999</v>")})
    assert whole_book(path)["items"][1] == [(2, ("#VALUE!",))]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (
            [["code", "code"], ["A", "B"]],
            "items!1 code: is the name of columns A and B; keep one of them",
        ),
        (
            [["code", None, "name"], ["A", "B"]],
            "items!1 column B: has no name in row 1; name the column or take it out",
        ),
        (
            [["code"], ["A", None, "x"]],
            "items!2 column C: has a value, but row 1 has no name for the column; "
            "name it or empty the cell",
        ),
        ([[], ["code"]], "items!1: row 1 is empty; it must hold the column names"),
        (
            [["c"] * 101],
            "items!1: a sheet may have 100 columns; take out what is not a column of it",
        ),
    ],
)
def test_a_sheet_is_refused_with_what_would_be_right(
    tmp_path: Path, rows: list[list[object]], said: str
) -> None:
    assert messages(saved(tmp_path, *rows)) == [said]


def test_an_error_value_is_refused_by_the_name_of_its_column(tmp_path: Path) -> None:
    rows = text_row(1, A="code") + '<row r="2"><c r="A2" t="e"><f>1/0</f><v>#DIV/0!</v></c></row>'
    assert messages(with_sheet(tmp_path, rows)) == [
        "items!2 code: holds an error instead of a value; correct the formula or type the value"
    ]


def with_shared_texts(path: Path, *texts: str, before: str = "") -> Path:
    """One text a row, as spreadsheet programs keep them: in a part of their own."""
    rows = "".join(
        f'<row r="{row}"><c r="A{row}" t="s"><v>{row - 1}</v></c></row>'
        for row in range(1, len(texts) + 1)
    )
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    relation = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
    inside = "".join(f"<si><t>{text}</t></si>" for text in texts)
    override = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}"/></Types>'
    related = f'<Relationship Id="rId99" Type="{relation}" Target="sharedStrings.xml"/>'
    return rebuilt(
        with_sheet(path, rows),
        {
            "xl/sharedStrings.xml": f'{before}<sst xmlns="{MAIN}">{inside}</sst>',
            "[Content_Types].xml": lambda xml: xml.replace("</Types>", override),
            "xl/_rels/workbook.xml.rels": lambda xml: xml.replace(
                "</Relationships>", f"{related}</Relationships>"
            ),
        },
    )


def test_shared_texts_are_read_and_blank_ones_are_blank(tmp_path: Path) -> None:
    path = with_shared_texts(tmp_path, "code", "A", " ", "B", "")
    assert whole_book(path)["items"][1] == [(2, ("A",)), (4, ("B",))]


def test_a_cell_too_long_is_named(tmp_path: Path) -> None:
    said = ["items!2 code: holds more characters; at most 32,767 fit"]
    long = "x" * 32_768
    assert messages(with_sheet(tmp_path, text_row(1, A="code") + text_row(2, A=long))) == said
    assert messages(with_shared_texts(tmp_path, "code", long)) == said


def test_a_cell_in_the_last_corner_is_refused_without_asking_for_memory(tmp_path: Path) -> None:
    rows = text_row(1, A="code") + text_row(1_048_576, XFD="x")
    [said] = messages(with_sheet(tmp_path, rows))
    assert said.startswith("items!200002: a sheet may have 200,000 rows")


def test_formatted_blank_rows_to_the_end_of_the_sheet_are_no_rows(tmp_path: Path) -> None:
    rows = text_row(1, A="code") + text_row(2, A="A") + '<row r="1048576"><c r="XFD1048576"/></row>'
    assert whole_book(with_sheet(tmp_path, rows))["items"][1] == [(2, ("A",))]


def test_rows_out_of_order_are_refused_rather_than_lost(tmp_path: Path) -> None:
    rows = text_row(1, A="code") + text_row(3, A="A") + text_row(2, A="B")
    assert messages(with_sheet(tmp_path, rows)) == [
        "items: the sheet has its rows out of order at row 2; open and save the file once"
    ]


DECLARATION = "<?xml version='1.0' encoding='UTF-8'?>"
BOMB = '<!DOCTYPE worksheet [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;&a;">]>'


def test_a_sheet_with_entities_is_refused(tmp_path: Path) -> None:
    path = with_sheet(tmp_path, text_row(1, A="&b;"), before=BOMB)
    assert messages(path) == [
        "items: the sheet declares a document type, which no spreadsheet program writes; "
        "save it again"
    ]


@pytest.mark.parametrize("part", ["xl/styles.xml", "xl/workbook.xml", "docProps/core.xml"])
def test_entities_in_any_other_part_are_refused(tmp_path: Path, part: str) -> None:
    path = saved(tmp_path, ["code"], ["A"])
    path = rebuilt(path, {part: lambda xml: BOMB + xml.removeprefix(DECLARATION)})
    [said] = messages(path)
    assert said.startswith("book.xlsx: declares a document type")


def test_entities_in_the_shared_texts_are_refused(tmp_path: Path) -> None:
    [said] = messages(with_shared_texts(tmp_path, "code", "&b;", before=BOMB))
    assert said.startswith("book.xlsx: declares a document type")


def test_a_flood_of_elements_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_scan, "MOST_ELEMENTS", 5)
    [said, *_] = messages(saved(tmp_path, ["code"], ["A"]))
    assert "holds far more formats, notes or drawings" in said


def test_texts_in_cells_are_no_flood_of_elements(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xlsx_scan, "MOST_ELEMENTS", 1_000)
    rows = "".join(text_row(number, A=f"text {number}") for number in range(1, 1_502))
    assert len(whole_book(with_sheet(tmp_path, rows))["items"][1]) == 1_500


def test_a_row_that_would_fill_the_memory_is_refused(tmp_path: Path) -> None:
    rows = text_row(1, A="code") + f'<row r="2">{"<c/>" * 100_001}</row>'
    [said] = messages(with_sheet(tmp_path, rows))
    assert said.startswith("items!2: a sheet may have 100 columns")


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = rebuilt(saved(tmp_path, ["code"]), {SHEET: b" " * 30_000_000})
    assert path.stat().st_size < 100_000
    assert messages(path) == [
        "book.xlsx: unpacks to far more than a workbook would; open it and save it again"
    ]


def test_more_than_two_hundred_megabytes_unpacked_are_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, ["code"])
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        for number in range(7):
            archive.writestr(f"xl/worksheets/more{number}.xml", b"0" * 30_000_000)
    assert messages(path) == ["book.xlsx: unpacks to more than 200 MB; load it in parts"]


def test_a_file_above_the_upload_limit_is_refused(tmp_path: Path) -> None:
    with open(tmp_path / "book.xlsx", "wb") as stream:
        stream.truncate(20 * 1024 * 1024 + 1)
    assert messages(tmp_path / "book.xlsx") == ["book.xlsx: is larger than 20 MB; load it in parts"]


def zipped(**parts: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        pytest.param(b"", "the file is empty", id="empty"),
        pytest.param(
            b"code,name\n",
            "is not an .xlsx workbook; save it as .xlsx",
            id="text",
        ),
        pytest.param(
            bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 600,
            "is protected by a password or an old .xls file; save it as .xlsx without a password",
            id="password or old",
        ),
        pytest.param(
            zipped(mimetype="x"),
            "is a zip file but not an .xlsx workbook; save it as .xlsx",
            id="another zip",
        ),
        pytest.param(
            zipped(**{"[Content_Types].xml": "<x/>", "_rels/.rels": "<x/>", "word/doc.xml": ""}),
            "is not an .xlsx workbook; save it as .xlsx",
            id="another document",
        ),
        pytest.param(
            zipped(**{"[Content_Types].xml": "<x", "_rels/.rels": "<x", "xl/workbook.xml": ""}),
            "is damaged; open it in a spreadsheet program and save it as .xlsx",
            id="broken XML",
        ),
    ],
)
def test_a_file_that_is_no_workbook_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    (tmp_path / "book.xlsx").write_bytes(content)
    assert messages(tmp_path / "book.xlsx") == [f"book.xlsx: {said}"]


def test_macros_are_refused_by_ending_part_or_type(tmp_path: Path) -> None:
    path = saved(tmp_path, ["code"])
    said = "holds macros, which are not read; save it as a workbook without macros (.xlsx)"
    named = path.rename(tmp_path / "book.xlsm")
    assert messages(named) == [f"book.xlsm: {said}"]
    rebuilt(saved(tmp_path, ["code"]), {"xl/vbaProject.bin": b"x"})
    assert messages(path) == [f"book.xlsx: {said}"]
    kind = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
    plain = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    types: Change = lambda xml: xml.replace(plain, kind)  # noqa: E731
    rebuilt(saved(tmp_path, ["code"]), {"[Content_Types].xml": types})
    assert messages(path) == [f"book.xlsx: {said}"]


def test_a_package_cut_short_or_changed_is_damaged(tmp_path: Path) -> None:
    path = saved(tmp_path, ["code"], ["A"])
    data = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as archive:
        start = archive.getinfo(SHEET).header_offset + 80
    data[start : start + 20] = b"\xff" * 20
    path.write_bytes(data)
    assert messages(path) == [
        "book.xlsx: is damaged; open it in a spreadsheet program and save it as .xlsx"
    ]


def test_a_shared_text_that_is_not_there_is_a_damaged_file(tmp_path: Path) -> None:
    rows = text_row(1, A="code") + '<row r="2"><c r="A2" t="s"><v>99</v></c></row>'
    assert messages(with_sheet(tmp_path, rows)) == [
        "book.xlsx: is damaged; open it in a spreadsheet program and save it as .xlsx"
    ]


def test_a_sheet_without_a_cell_is_absent(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.create_sheet("items").append(["code"])
    book.save(tmp_path / "book.xlsx")
    assert [sheet.name for sheet in read_book(tmp_path / "book.xlsx")] == ["items"]


def test_problems_of_all_sheets_are_told_at_once(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for name in ("items", "menu"):
        book.create_sheet(name).append(["code", "code"])
    book.save(tmp_path / "book.xlsx")
    assert messages(tmp_path / "book.xlsx") == [
        "items!1 code: is the name of columns A and B; keep one of them",
        "menu!1 code: is the name of columns A and B; keep one of them",
    ]


def test_a_good_sheet_is_given_beside_one_that_is_not(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.create_sheet("good", 0).append(["code"])
    book.worksheets[1]["A2"] = "below an empty first row"
    book.save(tmp_path / "book.xlsx")
    good, bad = read_book(tmp_path / "book.xlsx")
    assert (good.name, good.header, good.whole, list(good.problems)) == (
        "good",
        ("code",),
        True,
        [],
    )
    assert (bad.whole, [problem.code for problem in bad.problems]) == (False, ["missing_header"])
