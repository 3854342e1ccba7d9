"""Tables as a cook would write them: one line a row, cells between bars."""

from __future__ import annotations

from collections.abc import Iterable

Row = dict[str, str]


def table(text: str) -> list[Row]:
    """Rows of ``text``; its first line names the columns, short lines end in blanks."""
    lines = [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
    columns, *rows = lines
    for row in rows:
        if len(row) > len(columns):
            raise ValueError(f"more cells than columns: {' | '.join(row)}")
    return [dict(zip(columns, row + [""] * (len(columns) - len(row)), strict=True)) for row in rows]


def number(value: float) -> str:
    """A figure as somebody would type it: up to three decimals, none that say nothing."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def yes(said: bool) -> str:
    return "yes" if said else ""


def in_columns(columns: Iterable[str], rows: Iterable[Row]) -> list[Row]:
    """``rows`` with exactly ``columns``, in that order, blank where a row says nothing."""
    order = tuple(columns)
    return [{column: row.get(column, "") for column in order} for row in rows]
