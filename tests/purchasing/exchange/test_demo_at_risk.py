"""The demo's kitchen as somebody finds it who was not there yesterday: a few things run out before
they can come, and for a reason; the rest was seen in time."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.exchange.book import TextSheet
from purchasing.exchange.workbook import load_sheets
from purchasing.selectors.flags import HIGH_CHANCE
from purchasing.services.reorder import draw_up_orders
from tests.purchasing.exchange.demo_readings import MOMENTS, MONDAY, book, local, where

FOUND = {
    "monday": MONDAY,
    "saturday night": MOMENTS["saturday night"],
    "saturday in november": local(2026, 11, 28, 9, 40),
}


def lines_at_risk(as_of: datetime) -> set[tuple[str, str]]:
    """Place and item of the lines of drafts that may run out before they come."""
    sheets = [TextSheet(name, rows) for name, rows in book(as_of).items() if rows]
    load_sheets(sheets, by=None, at=as_of)
    orders: list[dict[str, Any]] = draw_up_orders(as_of=as_of).document["orders"]
    return {
        (order["location"], line["item"])
        for order in orders
        for line in order["lines"]
        if Decimal(line["reasons"]["stockout_chance_before_delivery"]) >= HIGH_CHANCE
    }


@pytest.mark.django_db
@pytest.mark.parametrize("as_of", FOUND.values(), ids=FOUND)
def test_two_to_four_lines_run_out_before_they_come(as_of: datetime) -> None:
    found = lines_at_risk(as_of)
    assert 2 <= len(found) <= 4, found
    assert ("MILL", "SHRIMP") in found


def test_what_nobody_saw_in_time_lies_there_in_one_lot_at_least() -> None:
    for as_of in MOMENTS.values():
        for item in ("SHRIMP", "PEAR-NECTAR"):
            assert where(book(as_of)["stock"], location="MILL", item=item)


def test_what_came_this_morning_is_still_to_be_taken_in() -> None:
    """At ten on a Tuesday the meat of seven o'clock stands on the dock."""
    due = where(book(local(2026, 3, 3, 10))["open_orders"], supplier="BRACKWATER")
    assert {row["due"] for row in due} >= {"2026-03-03"}
