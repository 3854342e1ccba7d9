"""The demo's sheets read a second time, independently of what made them."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from functools import cache
from zoneinfo import ZoneInfo

from purchasing.exchange.demo import demo_workbook
from purchasing.exchange.demo.places import ZONE
from purchasing.exchange.demo.table import Row

Sheets = dict[str, list[Row]]


def local(year: int, month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=ZoneInfo(ZONE))


MONDAY = local(2026, 3, 2, 6)
MOMENTS = {
    "monday": MONDAY,
    "wednesday afternoon": local(2026, 3, 4, 15, 30),
    "saturday night": local(2026, 3, 7, 23),
    "clock goes forward": local(2026, 3, 8, 6),
    "year end": local(2026, 12, 31, 6),
    "leap day": local(2028, 2, 29, 6),
}


@cache
def book(as_of: datetime = MONDAY) -> Sheets:
    return demo_workbook(as_of)


def where(rows: list[Row], **wanted: str) -> list[Row]:
    return [row for row in rows if all(row[column] == value for column, value in wanted.items())]


def codes(sheets: Sheets, kind: str) -> set[str]:
    return {row["code"] for row in sheets["items"] if row["kind"] == kind}


def kind_of(sheets: Sheets) -> dict[str, str]:
    return {row["code"]: row["kind"] for row in sheets["items"]}


def lines_of(sheets: Sheets) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for line in sheets["recipe_lines"]:
        found[line["recipe"]].append(line)
    return dict(found)


def depth(item: str, lines: dict[str, list[Row]], on_the_way: tuple[str, ...] = ()) -> int:
    """Recipes below one another, ``item``'s own included; a cycle fails."""
    assert item not in on_the_way, f"{item} goes into itself"
    below = [depth(line["item"], lines, (*on_the_way, item)) for line in lines.get(item, ())]
    return 1 + max(below) if below else 0


def day(row: Row, column: str = "date") -> date:
    return date.fromisoformat(row[column])
