"""Reading the plain text cells of a workbook held as ``{sheet: [row, …]}``."""

from __future__ import annotations

from datetime import date, time
from fractions import Fraction

Row = dict[str, str]
Sheets = dict[str, list[Row]]

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def text(row: Row, column: str) -> str:
    return row.get(column, "").strip()


def number(row: Row, column: str) -> Fraction | None:
    written = text(row, column)
    return Fraction(written) if written else None


def needed(row: Row, column: str) -> Fraction:
    return Fraction(text(row, column))


def day(row: Row, column: str) -> date | None:
    written = text(row, column)
    return date.fromisoformat(written) if written else None


def hour(row: Row, column: str) -> time | None:
    written = text(row, column)
    return time.fromisoformat(written) if written else None


def yes(row: Row, column: str) -> bool:
    return text(row, column) == "yes"


def weekdays(row: Row, column: str) -> frozenset[int]:
    """Monday = 0; a blank cell is every day."""
    written = text(row, column)
    if not written:
        return frozenset(range(7))
    return frozenset(WEEKDAYS.index(name.strip()) for name in written.split(";"))
