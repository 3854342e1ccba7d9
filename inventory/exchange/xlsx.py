"""A workbook as an .xlsx file, read: the package is checked first, then each sheet's XML is
scanned for limits, and only then openpyxl streams the cells."""

from __future__ import annotations

import posixpath
import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import time, timedelta
from itertools import islice
from pathlib import Path
from typing import IO, Any
from xml.etree import ElementTree
from xml.parsers.expat import ExpatError
from zipfile import BadZipFile, ZipFile

import openpyxl
from openpyxl.utils import get_column_letter

from inventory.exchange.grammar import problem_at
from inventory.exchange.raw import (
    UNCALCULATED,
    Cell,
    RawRow,
    RawSheet,
    Uncalculated,
    beyond_header,
    file_problem,
    header_names,
    header_problems,
    too_long,
    too_many_columns,
    too_many_rows,
    trimmed,
    unread,
)
from inventory.exchange.xlsx_package import package_problems, start_problem
from inventory.exchange.xlsx_scan import (
    MAIN,
    SheetPlaces,
    Strings,
    TooManyColumns,
    TooManyRows,
    Unsafe,
    columns_of,
    scan_part,
    scan_sheet,
    scan_strings,
)
from inventory.problems import Problem, Refused

_RELATED = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
_ROWS_AT_ONCE = 500
# What openpyxl and the standard library raise on XML or packages that are not as they should be.
_BROKEN = (
    ArithmeticError,
    AttributeError,
    BadZipFile,
    EOFError,
    ElementTree.ParseError,
    ExpatError,
    LookupError,
    RuntimeError,
    TypeError,
    ValueError,
    zlib.error,
)


@dataclass(frozen=True, slots=True)
class _Parts:
    """Names in the package of the parts that are read; ``sheets`` by sheet name."""

    sheets: dict[str, str]
    strings: str | None


def read_xlsx(path: Path) -> Iterator[RawSheet]:
    """Sheets in the order of the workbook. Formulas are read as their cached values."""
    with open(path, "rb") as stream:
        if problem := start_problem(path, stream):
            raise Refused(problem)
        try:
            yield from _sheets(path.name, stream)
        except _BROKEN as error:
            raise Refused(_broken(path.name)) from error


def _sheets(name: str, stream: IO[bytes]) -> Iterator[RawSheet]:
    with ZipFile(stream) as archive:
        if problems := list(package_problems(name, archive)):
            raise Refused(problems)
        places = _scan(name, archive)
    stream.seek(0)
    book = _open(stream)
    try:
        for sheet, found in places.items():
            header = _header(book[sheet], found)
            problems = list(_cell_problems(sheet, header, found))
            if not header and _is_blank(name, book[sheet], found):
                continue  # a sheet without a single cell is absent
            if any(header):
                yield RawSheet(sheet, header, _rows(name, book[sheet], found), problems)
            else:
                yield unread(sheet, problems=problems)
    finally:
        book.close()


def _open(stream: IO[bytes]) -> Any:
    # Excel's own extensions (drop-downs, colours by rule) make openpyxl warn; they hold no data.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return openpyxl.load_workbook(stream, read_only=True, data_only=True, keep_links=False)


def _broken(name: str) -> Problem:
    message = "is damaged; open it in a spreadsheet program and save it as .xlsx"
    return file_problem(name, message, "broken_workbook")


def _scan(name: str, archive: ZipFile) -> dict[str, SheetPlaces]:
    """Places by sheet name; refused if a part is unsafe or a sheet too large."""
    problems: list[Problem] = []
    strings = Strings()
    parts = _Parts({}, None)
    try:
        parts = _parts(archive)
        for part in archive.namelist():
            if part.endswith((".xml", ".rels", ".vml")) and part not in (
                *parts.sheets.values(),
                parts.strings,
            ):
                with archive.open(part) as stream:
                    scan_part(stream)
        if parts.strings:
            with archive.open(parts.strings) as stream:
                strings = scan_strings(stream)
    except Unsafe as unsafe:
        problems.append(file_problem(name, str(unsafe), "unsafe_workbook"))
    places: dict[str, SheetPlaces] = {}
    for sheet, part in parts.sheets.items():
        try:
            with archive.open(part) as stream:
                places[sheet] = scan_sheet(stream, strings)
        except Unsafe as unsafe:
            problems.append(file_problem(sheet, f"the sheet {unsafe}", "unsafe_workbook"))
        except TooManyRows:
            problems.append(too_many_rows(sheet))
        except TooManyColumns as error:
            problems.append(too_many_columns(sheet, error.args[0]))
    if problems:
        raise Refused(problems)
    return places


def _parts(archive: ZipFile) -> _Parts:
    [book] = _related(archive, "", "_rels/.rels", "/officeDocument").values()
    folder, base = posixpath.split(book)
    rels = posixpath.join(folder, "_rels", f"{base}.rels")
    sheets = _related(archive, folder, rels, "/worksheet")
    strings = _related(archive, folder, rels, "/sharedStrings")
    found: dict[str, str] = {}
    for element in _root(archive, book).iter(f"{{{MAIN}}}sheet"):
        name, part = element.attrib["name"], sheets.get(element.attrib[f"{{{_RELATED}}}id"])
        if name in found:
            raise Unsafe(f"has two sheets named '{name}'; keep one of them")
        if part is not None:
            found[name] = part
    if not found:
        raise Unsafe("has no sheet that can be read; save it as a plain Excel workbook (.xlsx)")
    return _Parts(found, next(iter(strings.values()), None))


def _related(archive: ZipFile, folder: str, rels: str, kind: str) -> dict[str, str]:
    """Parts by relationship id."""
    return {
        element.attrib["Id"]: posixpath.normpath(
            posixpath.join("/", folder, element.attrib["Target"])
        ).lstrip("/")
        for element in _root(archive, rels).iter(f"{{{_PACKAGE}}}Relationship")
        if element.attrib.get("Type", "").endswith(kind)
        and element.attrib.get("TargetMode") != "External"
    }


def _root(archive: ZipFile, part: str) -> ElementTree.Element:
    with archive.open(part) as stream:
        scan_part(stream)
    with archive.open(part) as stream:
        return ElementTree.parse(stream).getroot()


def _is_blank(name: str, sheet: Any, found: SheetPlaces) -> bool:
    return next(_rows(name, sheet, found), None) is None


def _header(sheet: Any, found: SheetPlaces) -> tuple[str, ...]:
    if not found.width:
        return ()
    for _, cells in _blocks(sheet, found, last_row=1):
        return header_names(cells)
    return ()


def _cell_problems(sheet: str, header: tuple[str, ...], found: SheetPlaces) -> Iterator[Problem]:
    yield from header_problems(sheet, header)
    if not any(header):
        return
    for column in columns_of(found.uncalculated.get(1, 0)):
        message = "is a formula without a value; open and save the file once, or type the name"
        place = f"column {get_column_letter(column)}"
        yield problem_at(sheet, 1, place, message, "uncalculated_header")
    for row, column in found.errors:
        message = "holds an error instead of a value; correct the formula or type the value"
        yield problem_at(sheet, row, _name(header, column), message, "error_cell")
    for row, column in found.long:
        yield too_long(sheet, row, _name(header, column))
    for row, column in found.beyond:
        yield beyond_header(sheet, row, column)


def _name(header: tuple[str, ...], column: int) -> str:
    name = header[column - 1] if column <= len(header) else ""
    return name or f"column {get_column_letter(column)}"


def _rows(name: str, sheet: Any, found: SheetPlaces) -> Iterator[RawRow]:
    try:
        for number, cells in _blocks(sheet, found, last_row=found.last_row):
            if number > 1 and trimmed(cells):
                yield number, cells
    except _BROKEN as error:
        raise Refused(_broken(name)) from error


def _blocks(sheet: Any, found: SheetPlaces, *, last_row: int) -> Iterator[RawRow]:
    """Rows 1 to ``last_row``, read some hundreds at a time so that warnings can be muted."""
    rows = sheet.iter_rows(max_row=last_row, max_col=found.width, values_only=True)
    number = 0
    while True:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            block = list(islice(rows, _ROWS_AT_ONCE))
        if not block:
            return
        for cells in block:
            number += 1
            yield number, _marked(cells, found.uncalculated.get(number, 0))


def _marked(cells: tuple[Any, ...], uncalculated: int) -> tuple[Cell | Uncalculated, ...]:
    return tuple(
        UNCALCULATED if uncalculated >> column & 1 else _cell(cell)
        for column, cell in enumerate(cells, 1)
    )


def _cell(cell: Any) -> Cell:
    """Durations within a day are times; longer ones are text such as ``26:00:00``."""
    if isinstance(cell, timedelta):
        seconds = round(cell.total_seconds())
        hours, minutes = seconds // 3600, seconds // 60 % 60
        if 0 <= hours < 24:
            return time(hours, minutes, seconds % 60)
        return f"{hours}:{minutes:02}:{seconds % 60:02}"
    if isinstance(cell, str):
        return cell or None
    return cell  # type: ignore[no-any-return]  # openpyxl gives numbers, booleans and dates
