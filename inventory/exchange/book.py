"""From raw sheets to checked rows: every problem of the whole workbook at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from inventory.exchange.grammar import Book, Row, Sheet, parse_cells, problem_at
from inventory.problems import Problem


class RawSheet(Protocol):
    """A sheet as a file holds it; rows come with their number, the header being row 1."""

    @property
    def name(self) -> str: ...
    @property
    def header(self) -> tuple[str, ...]: ...
    @property
    def rows(self) -> Iterator[tuple[int, Sequence[object]]]: ...


@dataclass(frozen=True, slots=True)
class TextSheet:
    """A sheet made in memory, row by row, as texts."""

    name: str
    texts: Sequence[Mapping[str, str]]

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
        sheet = known.get(found.name)
        if sheet is None:
            book.problems.append(_unknown_sheet(found.name, known))
        elif problems := list(_header_problems(found, sheet)):
            book.problems.extend(problems)
        else:
            book.rows[sheet.name] = list(_rows(found, sheet, book.problems))
            book.problems.extend(_double_keys(book.rows[sheet.name], sheet))
    return book


def _unknown_sheet(name: str, known: dict[str, Sheet]) -> Problem:
    return Problem(
        "unknown_sheet",
        f"{name}!1 : there is no sheet of this name; the sheets are {' '.join(known)}",
        data={"sheet": name},
    )


def _header_problems(found: RawSheet, sheet: Sheet) -> Iterator[Problem]:
    for name in found.header:
        if name not in sheet.header:
            message = f"there is no column '{name}'; the columns are {' '.join(sheet.header)}"
            yield problem_at(sheet.name, 1, name, message, "unknown_column")
    for name in sheet.required:
        if name not in found.header:
            yield problem_at(
                sheet.name, 1, name, "this column is required; add it", "missing_column"
            )


def _rows(found: RawSheet, sheet: Sheet, problems: list[Problem]) -> Iterator[Row]:
    for number, cells in found.rows:
        row = parse_cells(sheet, number, zip(found.header, cells, strict=True), problems)
        if row is not None:
            yield row


def _double_keys(rows: Iterable[Row], sheet: Sheet) -> Iterator[Problem]:
    first: dict[tuple[object, ...], int] = {}
    for row in rows if sheet.key else ():
        key = tuple(_blank(row[column]) for column in sheet.key)
        if key in first:
            yield row.problem(
                sheet.key[-1],
                f"rows {first[key]} and {row.number} have the same {', '.join(sheet.key)}; "
                "keep one of them",
                "double_key",
            )
        else:
            first[key] = row.number


def _blank(value: object) -> object:
    """A column left out and a blank one name the same row."""
    return None if value == "" else value
