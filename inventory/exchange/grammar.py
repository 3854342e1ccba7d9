"""The workbook's grammar: sheets, columns, kinds of cell, and sentences about what is wrong.

A cell is parsed by its column's kind into a value, or answers with a sentence that says what
would be right. ``sheet!row column: …`` is how every problem of a workbook begins.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from typing import Any

from inventory.engine.units import STANDARD_UNITS
from inventory.fields import LIMIT, quantised
from inventory.models.words import CODE_PATTERN
from inventory.problems import Problem

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


class Wrong(Exception):
    """A cell that cannot be read; the text says what would be right."""


Parse = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class Column:
    """``empty`` is the value of a blank cell; a required column must not be blank."""

    name: str
    parse: Parse
    note: str = ""
    required: bool = False
    empty: Any = None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """``key``: the columns that name a row; two rows with one key are an error."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    @property
    def header(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @property
    def required(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns if column.required)

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)


@dataclass(frozen=True, slots=True)
class Row:
    """A checked row. Columns that the file leaves out are absent from ``cells``."""

    sheet: str
    number: int
    cells: Mapping[str, Any]

    def __getitem__(self, column: str) -> Any:
        return self.cells.get(column)

    def has(self, column: str) -> bool:
        return column in self.cells

    def problem(self, column: str, message: str, code: str = "workbook_cell") -> Problem:
        return problem_at(self.sheet, self.number, column, message, code)


@dataclass(slots=True)
class Book:
    """All rows of a workbook by sheet, with everything that is wrong or doubtful so far."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)

    def __getitem__(self, sheet: str) -> list[Row]:
        return self.rows.get(sheet, [])


def problem_at(
    sheet: str, number: int, column: str, message: str, code: str = "workbook_cell"
) -> Problem:
    place = f"{sheet}!{number} {column}".rstrip()
    return Problem(
        code,
        f"{place}: {message}",
        column,
        {"sheet": sheet, "row": number, "column": column},
    )


def shown(value: object) -> str:
    """A cell's content as a sentence may quote it."""
    text = str(value)
    return f"'{text[:40]}…'" if len(text) > 40 else f"'{text}'"


# Kinds of cell. Each takes a cell that is not blank.


def text(longest: int = 120) -> Parse:
    def parse(value: Any) -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        found = str(value).strip()
        if len(found) > longest:
            raise Wrong(f"is {len(found)} characters long; at most {longest} fit")
        if _CONTROL.search(found):
            raise Wrong("holds a control character; type it again as plain text")
        return found

    return parse


def code(value: Any) -> str:
    if isinstance(value, bool | date | time):
        raise Wrong(f"{shown(value)} is not a code; make the cell a text cell")
    if isinstance(value, float):
        if not value.is_integer() or abs(value) >= 10**15:
            raise Wrong(f"{shown(value)} is a number that loses digits; make it a text cell")
        value = int(value)
    found = str(value).strip()
    if not CODE_PATTERN.fullmatch(found):
        raise Wrong(
            f"{shown(found)} is not a code; a code is up to 40 letters, digits, '-', '_' and '.'"
        )
    return found


def number(
    least: int | None = 0, above: int | None = None, most: Decimal | int | None = None
) -> Parse:
    """A decimal with a point, at least ``least`` or above ``above``; kept to nine places."""

    def parse(value: Any) -> Decimal:
        found = _decimal(value)
        if above is not None and found <= above:
            raise Wrong(f"{shown(value)} must be more than {above}")
        if above is None and least is not None and found < least:
            raise Wrong(f"{shown(value)} must be {least} or more")
        if most is not None and found > most:
            raise Wrong(f"{shown(value)} must be at most {most}")
        return found

    return parse


def _decimal(value: Any) -> Decimal:
    if isinstance(value, bool | date | time):
        raise Wrong(f"{shown(value)} is not a number; type a figure such as 12.5")
    if isinstance(value, int | float):
        value = repr(value)
        if "e" in value:
            value = f"{Decimal(value):f}" if abs(Decimal(value)) <= LIMIT else value
    found = str(value).strip()
    if not _NUMBER.fullmatch(found):
        hint = "; use a point, not a comma" if "," in found else ""
        raise Wrong(f"{shown(found)} is not a number; type a figure such as 12.5{hint}")
    try:
        figure = quantised(Decimal(found)) if len(found) < 60 else None
    except InvalidOperation:
        figure = None
    if figure is None or abs(figure) > LIMIT:
        raise Wrong(f"{shown(found)} is too large; at most {int(LIMIT)} fits")
    return figure


def whole(least: int = 0, most: int = 1_000_000) -> Parse:
    def parse(value: Any) -> int:
        found = _decimal(value)
        if found != found.to_integral_value():
            raise Wrong(f"{shown(value)} is not a whole number")
        if not least <= found <= most:
            raise Wrong(f"{shown(value)} must be a whole number from {least} to {most}")
        return int(found)

    return parse


def day(value: Any) -> date:
    if isinstance(value, datetime):
        if value.time() != time.min:
            raise Wrong(f"{shown(value)} has an hour; a date is YYYY-MM-DD")
        return value.date()
    if isinstance(value, date):
        return value
    found = str(value).strip()
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", found):
            raise ValueError
        parsed = date.fromisoformat(found)
    except ValueError:
        raise Wrong(f"{shown(found)} is not a date; a date is YYYY-MM-DD") from None
    if not 1990 <= parsed.year <= 2100:
        raise Wrong(f"{shown(found)} is outside the years 1990 to 2100")
    return parsed


def hour(value: Any) -> time:
    if isinstance(value, datetime):
        raise Wrong(f"{shown(value)} has a date; a time is HH:MM")
    if isinstance(value, time):
        return value.replace(microsecond=0)
    match = _TIME.fullmatch(str(value).strip())
    if match:
        hours, minutes, seconds = (int(part or 0) for part in match.groups())
        if hours < 24 and minutes < 60 and seconds < 60:
            return time(hours, minutes, seconds)
    raise Wrong(f"{shown(value)} is not a time; a time is HH:MM from 00:00 to 23:59")


def yes_no(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    found = str(value).strip().lower()
    if found not in ("yes", "no"):
        raise Wrong(f"{shown(value)} must be yes or no")
    return found == "yes"


def one_of(choices: Sequence[str]) -> Parse:
    def parse(value: Any) -> str:
        found = str(value).strip()
        if found not in choices:
            raise Wrong(f"{shown(value)} is not known; it is one of {' '.join(choices)}")
        return found

    return parse


def weekday(value: Any) -> int:
    return WEEKDAYS.index(one_of(WEEKDAYS)(str(value).strip().lower()))


def weekdays(value: Any) -> list[int]:
    """A list such as mon;thu, as sorted numbers."""
    found = [part.strip() for part in str(value).split(";") if part.strip()]
    return sorted({weekday(part) for part in found})


def words(value: Any) -> list[str]:
    return sorted({part.strip().lower() for part in str(value).split(";") if part.strip()})


def unit(value: Any) -> str:
    """A unit word; whether the item knows it is checked with the item."""
    found = str(value).strip()
    if not re.fullmatch(r"[^\s;,]{1,20}", found):
        raise Wrong(f"{shown(value)} is not a unit; use one of {' '.join(sorted(STANDARD_UNITS))}")
    return found


def gtin(value: Any) -> str:
    """GTIN-8, 12, 13 or 14, padded to 14 digits; the check digit must be right (GS1 7.9)."""
    if isinstance(value, float):
        value = int(value) if value.is_integer() else value
    if isinstance(value, int) and value >= 10**14:
        raise Wrong(f"{shown(value)} has lost digits as a number; make it a text cell")
    found = str(value).strip()
    if not re.fullmatch(r"\d{8,14}", found):
        raise Wrong(f"{shown(value)} is not a GTIN; it has 8, 12, 13 or 14 digits")
    padded = found.zfill(14)
    check = -sum(int(c) * (3 if i % 2 == 0 else 1) for i, c in enumerate(padded[:13])) % 10
    if check != int(padded[13]):
        raise Wrong(f"{shown(value)} ends in {padded[13]}, but its check digit is {check}")
    return padded


def parse_cells(
    sheet: Sheet, number_: int, cells: Iterable[tuple[str, Any]], problems: list[Problem]
) -> Row | None:
    """The row's values, or None with every problem of the row added."""
    values: dict[str, Any] = {}
    before = len(problems)
    for name, cell in cells:
        column = sheet.column(name)
        try:
            values[name] = _parse(column, cell)
        except Wrong as wrong:
            problems.append(problem_at(sheet.name, number_, name, str(wrong)))
    return Row(sheet.name, number_, values) if len(problems) == before else None


def _parse(column: Column, cell: Any) -> Any:
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        if column.required:
            raise Wrong(f"is empty; {column.note[:1].lower()}{column.note[1:]}")
        return column.empty
    return column.parse(cell)
