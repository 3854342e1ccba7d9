"""The workbook's grammar: sheets, columns, kinds of cell, and sentences about what is wrong.

A cell is parsed by its column's kind into a value, or answers with a sentence that says what
would be right. ``sheet!row column: …`` is how every problem of a workbook begins.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from itertools import islice
from typing import Any

from inventory.engine.units import STANDARD_UNITS
from inventory.fields import LIMIT, quantised
from inventory.models.words import CODE_PATTERN
from inventory.problems import Problem

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d{1,9})?", re.ASCII | re.IGNORECASE)
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_GTIN = re.compile(r"\d{8,14}", re.ASCII)
_EMAIL = re.compile(r"[^@\s,;<>]+@[^@\s,;<>]+")
_UNIT = re.compile(r"[^\s;,]{1,20}")
# On one sheet; a file of another kind has one in every cell.
MOST_PROBLEMS = 2_000
# The largest figure has ten digits before the point; a longer text is none.
_LONGEST_NUMBER = 60
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
# What a terminal would act on or could not print: controls, lone surrogates, turned writing.
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


class Wrong(Exception):
    """A cell that cannot be read; the text says what would be right."""


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A cell of which the file itself can say no value; ``why`` goes on as the sentence."""

    why: str


Parse = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class Figure:
    """A kind of cell that is a number in a spreadsheet too."""

    read: Parse

    def __call__(self, value: Any) -> Any:
        return self.read(value)


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
    """``key``: the columns that name a row; ``once``: two rows with one key are an error."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    once: bool = True

    @property
    def header(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @property
    def required(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns if column.required)

    @property
    def figures(self) -> frozenset[str]:
        return frozenset(c.name for c in self.columns if isinstance(c.parse, Figure))


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
    """All rows of a workbook by sheet, with everything that is wrong or doubtful so far.

    ``broken``: rows in which a cell is wrong. They are not checked further, but what they
    name is known, so that nobody is told that a code is missing which merely stands in one.
    ``unread``: sheets of which rows are missing; what they should hold is not asked for.
    """

    rows: dict[str, list[Row]] = field(default_factory=dict)
    broken: dict[str, list[Row]] = field(default_factory=dict)
    unread: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    _told: Counter[object] = field(default_factory=Counter)

    def __getitem__(self, sheet: str) -> list[Row]:
        return self.rows.get(sheet, [])

    def named(self, sheet: str, column: str) -> set[Any]:
        """Every value of a column, that of broken rows too."""
        rows = (*self[sheet], *self.broken.get(sheet, ()))
        return {row[column] for row in rows if row[column] is not None}

    def complain(self, problems: Iterable[Problem]) -> None:
        """Keep them all, up to a number on a sheet beyond which nobody reads on."""
        for problem in problems:
            sheet = problem.data.get("sheet")
            self._told[sheet] += 1
            if self._told[sheet] <= MOST_PROBLEMS:
                self.problems.append(problem)

    def warn(self, problems: Iterable[Problem]) -> None:
        room = MOST_PROBLEMS - len(self.warnings)
        self.warnings.extend(islice(problems, max(0, room)))

    def sorted_problems(self) -> list[Problem]:
        """In the order of the rows, sheet by sheet as they were met."""
        more = (
            Problem(
                "more_problems",
                f"{sheet}: {count - MOST_PROBLEMS:,} problems more; correct these first",
                data={"sheet": sheet, "row": MOST_PROBLEMS**2},
            )
            for sheet, count in self._told.items()
            if count > MOST_PROBLEMS
        )
        order = {sheet: place for place, sheet in enumerate(self._told)}
        return sorted(
            (*self.problems, *more),
            key=lambda one: (order[one.data.get("sheet")], one.data.get("row", 0)),
        )


def problem_at(
    sheet: str, number: int, column: str, message: str, code: str = "workbook_cell"
) -> Problem:
    sheet, column = printable(sheet), printable(column)
    place = f"{sheet}!{number} {column}".rstrip()
    return Problem(
        code,
        f"{place}: {message}",
        column,
        {"sheet": sheet, "row": number, "column": column},
    )


def printable(text: str) -> str:
    """``text`` as a terminal or a page may show it, whatever a file held."""
    return _UNPRINTABLE.sub("\ufffd", text)


def shown(value: object) -> str:
    """A cell's content as a sentence may quote it."""
    text = printable(str(value)[:41])
    return f"'{text[:40]}…'" if len(text) > 40 else f"'{text}'"


def figure(value: Decimal) -> str:
    """Digits as one would type them: no exponent, no zeros at the end."""
    return f"{value.normalize():f}"


# Kinds of cell. Each takes a cell that is not blank.


def text(longest: int = 120) -> Parse:
    def parse(value: Any) -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        # One kind of line end, as a workbook gives it back.
        found = str(value).strip().replace("\r\n", "\n").replace("\r", "\n")
        if len(found) > longest:
            raise Wrong(f"is {len(found):,} characters long; at most {longest} fit")
        return found

    return parse


def code(value: Any) -> str:
    if isinstance(value, bool | date | time):
        raise Wrong(f"{shown(value)} is not a code; make the cell a text cell")
    if isinstance(value, int | float):
        # A spreadsheet keeps fifteen digits of a number.
        if not float(value).is_integer() or abs(value) >= 10**15:
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
) -> Figure:
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

    return Figure(parse)


def _decimal(value: Any) -> Decimal:
    if isinstance(value, bool | date | time):
        raise Wrong(f"{shown(value)} is not a number; type a figure such as 12.5")
    found = repr(value) if isinstance(value, int | float) else str(value).strip()
    if len(found) > _LONGEST_NUMBER or not _NUMBER.fullmatch(found):
        hint = "; use a point, not a comma" if "," in found else ""
        raise Wrong(f"{shown(found)} is not a number; type a figure such as 12.5{hint}")
    figure = Decimal(found)
    if not -LIMIT <= figure <= LIMIT:
        raise Wrong(f"{shown(found)} is too large; at most {int(LIMIT):,} fits")
    return quantised(figure)


def whole(least: int = 0, most: int = 1_000_000) -> Figure:
    def parse(value: Any) -> int:
        found = _decimal(value)
        if found != found.to_integral_value():
            raise Wrong(f"{shown(value)} is not a whole number")
        if not least <= found <= most:
            raise Wrong(f"{shown(value)} must be a whole number from {least} to {most}")
        return int(found)

    return Figure(parse)


def day(value: Any) -> date:
    if isinstance(value, datetime):
        if value.time() != time.min:
            raise Wrong(f"{shown(value)} has an hour; a date is YYYY-MM-DD")
        value = value.date()
    parsed = value if isinstance(value, date) else _date(str(value).strip())
    if not 1990 <= parsed.year <= 2200:
        raise Wrong(f"{shown(parsed)} is outside the years 1990 to 2200; a date is YYYY-MM-DD")
    return parsed


def _date(found: str) -> date:
    try:
        if not _DATE.fullmatch(found):
            raise ValueError
        return date.fromisoformat(found)
    except ValueError:
        raise Wrong(f"{shown(found)} is not a date; a date is YYYY-MM-DD") from None


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
    if found not in ("yes", "no", "true", "false"):  # the last two: a true cell saved as csv
        raise Wrong(f"{shown(value)} must be yes or no")
    return found in ("yes", "true")


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


def words(longest: int = 40) -> Parse:
    def parse(value: Any) -> list[str]:
        found = sorted({part.strip().lower() for part in str(value).split(";") if part.strip()})
        for word in found:
            if len(word) > longest:
                raise Wrong(f"{shown(word)} is too long; a word has at most {longest} letters")
        return found

    return parse


def unit(value: Any) -> str:
    """A unit word; whether the item knows it is checked with the item."""
    found = str(value).strip()
    if not _UNIT.fullmatch(found):
        raise Wrong(f"{shown(value)} is not a unit; use one of {' '.join(sorted(STANDARD_UNITS))}")
    return found


def email(value: Any) -> str:
    found = str(text(254)(value))
    if not _EMAIL.fullmatch(found):
        raise Wrong(f"{shown(found)} is not an e-mail address such as orders@example.org")
    return found


def gtin(value: Any) -> str:
    """GTIN-8, 12, 13 or 14, padded to 14 digits; the check digit must be right (GS1 7.9)."""
    if isinstance(value, float):
        value = int(value) if value.is_integer() else value
    if isinstance(value, int) and value >= 10**14:
        raise Wrong(f"{shown(value)} has lost digits as a number; make it a text cell")
    found = str(value).strip()
    if not _GTIN.fullmatch(found):
        raise Wrong(f"{shown(value)} is not a GTIN; it has 8, 12, 13 or 14 digits")
    padded = found.zfill(14)
    check = -sum(int(c) * (3 if i % 2 == 0 else 1) for i, c in enumerate(padded[:13])) % 10
    if check != int(padded[13]):
        raise Wrong(f"{shown(value)} ends in {padded[13]}, but its check digit is {check}")
    return padded


def parsed(column: Column, cell: Any) -> Any:
    """The value of one cell. Raises ``Wrong``."""
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        if column.required:
            raise Wrong(f"is empty; {column.note[:1].lower()}{column.note[1:]}")
        return column.empty
    if isinstance(cell, Unreadable):
        raise Wrong(cell.why)
    if isinstance(cell, str) and _CONTROL.search(cell):
        raise Wrong("holds a control character; type it again as plain text")
    return column.parse(cell)
