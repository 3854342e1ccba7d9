"""From raw sheets to checked rows: every problem of the whole workbook at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from inventory.exchange.grammar import (
    Book,
    Column,
    Row,
    Sheet,
    Unreadable,
    Wrong,
    parsed,
    problem_at,
    shown,
)
from inventory.exchange.raw import UNCALCULATED
from inventory.problems import Problem

_NO_VALUE = Unreadable("is a formula without a value; open and save the file once, or type it")


class RawSheet(Protocol):
    """A sheet as ``raw.RawSheet`` describes it, from a file or not."""

    @property
    def name(self) -> str: ...
    @property
    def header(self) -> tuple[str, ...]: ...
    @property
    def rows(self) -> Iterator[tuple[int, Sequence[object]]]: ...
    @property
    def problems(self) -> Sequence[Problem]: ...
    @property
    def warnings(self) -> Sequence[Problem]: ...
    @property
    def whole(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class TextSheet:
    """A sheet made in memory, row by row, as texts."""

    name: str
    texts: Sequence[Mapping[str, str]]
    problems: Sequence[Problem] = ()
    warnings: Sequence[Problem] = ()
    whole: bool = True

    @property
    def header(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(column for row in self.texts for column in row))

    @property
    def rows(self) -> Iterator[tuple[int, Sequence[object]]]:
        header = self.header
        for number, row in enumerate(self.texts, start=2):
            yield number, [row.get(column) for column in header]


def parse_book(raw: Iterable[RawSheet], sheets: Iterable[Sheet]) -> Book:
    """Parse every cell; references between rows are checked afterwards."""
    known = {sheet.name: sheet for sheet in sheets}
    book = Book()
    for found in raw:
        book.complain(found.problems)
        book.warn(found.warnings)
        if not found.whole:
            book.unread.add(found.name)
        elif sheet := known.get(found.name):
            book.complain(_header_problems(found, sheet))
            _parse_rows(found, sheet, book)
            book.complain(_double_keys(book[sheet.name], sheet))
        else:
            book.complain([_unknown_sheet(found.name, known)])
    return book


def _unknown_sheet(name: str, known: dict[str, Sheet]) -> Problem:
    message = f"there is no sheet of this name; the sheets are {' '.join(known)}"
    return problem_at(name, 1, "", message, "unknown_sheet")


def _header_problems(found: RawSheet, sheet: Sheet) -> Iterator[Problem]:
    for name in found.header:
        if name and name not in sheet.header:
            message = f"there is no column {shown(name)}; the columns are {' '.join(sheet.header)}"
            yield problem_at(sheet.name, 1, name, message, "unknown_column")
    for name in sheet.required:
        if name not in found.header:
            message = "this column is required; add it"
            yield problem_at(sheet.name, 1, name, message, "missing_column")


def _parse_rows(found: RawSheet, sheet: Sheet, book: Book) -> None:
    """Rows of a sheet with a wrong header are read too, for what they name and what else is
    wrong; none of them counts as sound."""
    known = {column.name: column for column in sheet.columns}
    columns = [known.get(name) for name in found.header]
    sound = all(columns) and set(sheet.required) <= set(found.header)
    told = {(one.data.get("row"), one.data.get("column")) for one in found.problems}
    rows = book.rows[sheet.name] = []
    broken = book.broken[sheet.name] = []
    for number, cells in found.rows:
        values: dict[str, Any] = {}
        wrong = list(_parse_cells(zip(columns, cells, strict=True), values))
        row = Row(sheet.name, number, values)
        (broken if wrong or not sound else rows).append(row)
        book.complain(
            row.problem(column, message)
            for column, message in wrong
            if (number, column) not in told
        )


def _parse_cells(
    cells: Iterable[tuple[Column | None, object]], values: dict[str, Any]
) -> Iterator[tuple[str, str]]:
    """Fills ``values``; yields column and sentence of what is wrong."""
    for column, cell in cells:
        if column is None:
            continue
        try:
            values[column.name] = parsed(column, _NO_VALUE if cell is UNCALCULATED else cell)
        except Wrong as wrong:
            yield column.name, str(wrong)


def _double_keys(rows: Iterable[Row], sheet: Sheet) -> Iterator[Problem]:
    first: dict[tuple[object, ...], int] = {}
    for row in rows if sheet.key and sheet.once else ():
        key = tuple([_blank(row[column]) for column in sheet.key])
        earlier = first.setdefault(key, row.number)
        if earlier != row.number:
            yield row.problem(
                sheet.key[-1],
                f"rows {earlier} and {row.number} have the same {', '.join(sheet.key)}; "
                "keep one of them",
                "double_key",
            )


def _blank(value: object) -> object:
    """A column left out and a blank one name the same row."""
    return None if value == "" else value
