"""What both kinds of file have in common: raw sheets, tables to write, limits, sentences."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import Enum
from typing import Final

from openpyxl.utils import get_column_letter

from inventory.exchange.grammar import problem_at
from inventory.problems import Problem, Refused

MEBIBYTE: Final = 1024 * 1024
MOST_PACKED: Final = 20 * MEBIBYTE
MOST_UNPACKED: Final = 200 * MEBIBYTE
MOST_ROWS: Final = 200_000
MOST_COLUMNS: Final = 100
# The most characters that a spreadsheet program lets a cell hold.
LONGEST_CELL: Final = 32_767
# Cells listed of one kind of problem on one sheet; a file of another kind has them in every row.
MOST_LISTED: Final = 100

_NEVER = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


class Uncalculated(Enum):
    """A formula that was never calculated: the file holds no value for it."""

    UNCALCULATED = "a formula without a value"

    def __str__(self) -> str:
        return self.value


UNCALCULATED: Final = Uncalculated.UNCALCULATED
Cell = str | int | float | bool | datetime | date | time | None
RawRow = tuple[int, tuple[Cell | Uncalculated, ...]]


@dataclass(frozen=True, slots=True)
class RawSheet:
    """``rows``: row number as in the file (the header is row 1) and one cell per column of
    ``header``; blank rows are left out. They can be walked once, before the next sheet.

    ``problems``: what is wrong with the file, the header or single cells, whatever the sheet
    is about. ``whole``: False where rows or columns may be missing on account of that.
    """

    name: str
    header: tuple[str, ...]
    rows: Iterator[RawRow]
    problems: Sequence[Problem] = ()
    warnings: Sequence[Problem] = ()
    whole: bool = True


def unread(
    name: str, *, problems: Sequence[Problem] = (), warnings: Sequence[Problem] = ()
) -> RawSheet:
    """A sheet, or a file that should be one, of which nothing can be read."""
    return RawSheet(name, (), iter(()), problems, warnings, whole=False)


@dataclass(frozen=True, slots=True)
class Table:
    """A sheet to write. ``notes`` and ``choices`` go by column; a folder has no room for them.
    ``figures``: columns of numbers."""

    name: str
    header: Sequence[str]
    rows: Iterable[Sequence[str | None]]
    notes: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[str]] = field(default_factory=dict)
    figures: frozenset[str] = frozenset()


def file_problem(name: str, message: str, code: str = "workbook_file") -> Problem:
    """A problem of a whole file; ``name`` is how its owner knows it."""
    return Problem(code, f"{name}: {message}", data={"file": name})


def blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def trimmed(cells: Sequence[Cell | Uncalculated]) -> Sequence[Cell | Uncalculated]:
    """Without the blank cells at the end."""
    end = len(cells)
    while end and blank(cells[end - 1]):
        end -= 1
    return cells[:end]


def header_names(cells: Sequence[Cell | Uncalculated]) -> tuple[str, ...]:
    return tuple("" if blank(cell) else str(cell).strip() for cell in trimmed(cells))


def header_problems(sheet: str, header: Sequence[str]) -> Iterator[Problem]:
    """What is wrong with the column names, whatever sheet it is."""
    if not any(header):
        message = "row 1 is empty; it must hold the column names"
        yield problem_at(sheet, 1, "", message, "missing_header")
        return
    first: dict[str, str] = {}
    for position, name in enumerate(header, 1):
        letter = get_column_letter(position)
        if not name:
            message = "has no name in row 1; name the column or take it out"
            yield problem_at(sheet, 1, f"column {letter}", message, "empty_header")
        elif name in first:
            message = f"is the name of columns {first[name]} and {letter}; keep one of them"
            yield problem_at(sheet, 1, name, message, "double_header")
        first.setdefault(name, letter)


def beyond_header(sheet: str, row: int, position: int) -> Problem:
    message = "has a value, but row 1 has no name for the column; name it or empty the cell"
    place = f"column {get_column_letter(position)}"
    return problem_at(sheet, row, place, message, "beyond_header")


def too_long(sheet: str, row: int, column: str, length: int | None = None) -> Problem:
    found = "more" if length is None else f"{length:,}"
    message = f"holds {found} characters; at most {LONGEST_CELL:,} fit"
    return problem_at(sheet, row, column, message, "long_cell")


def too_many_rows(sheet: str) -> Problem:
    message = f"a sheet may have {MOST_ROWS:,} rows; split the file and load the parts in turn"
    return problem_at(sheet, MOST_ROWS + 2, "", message, "too_many_rows")


def too_many_columns(sheet: str, row: int) -> Problem:
    message = f"a sheet may have {MOST_COLUMNS} columns; take out what is not a column of it"
    return problem_at(sheet, row, "", message, "too_many_columns")


def plain(text: str) -> str:
    """Text that both kinds of file keep: line ends become ``\\n``, characters that no
    spreadsheet can hold are dropped."""
    return _NEVER.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def plain_row(table: Table, number: int, row: Sequence[str | None]) -> list[str | None]:
    """The cells of row ``number`` as they may be written; refused if one is too long."""
    kept = [text and plain(text) for text in row]
    for name, text in zip(table.header, kept, strict=True):
        if text and len(text) > LONGEST_CELL:
            raise Refused(too_long(table.name, number, name, len(text)))
    return kept
