"""Bridges and price breaks through the command, which does both unless the settings say
otherwise (R13). DRY, the first choice of lentils, comes on Tuesday and needs 3 cases."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries
from pytest_django.fixtures import Settings

from inventory.selectors.measures import item_measures
from purchasing.models import OrderLine
from purchasing.selectors import supply
from tests.purchasing.exchange.books import run
from tests.purchasing.services.small_kitchen import AS_OF_TEXT, book, load, sheets

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _kitchen() -> None:
    load()
    broken = {"supplier": "DRY", "item": "LENTIL", "from_cases": "4", "price": "14"}
    load(price_breaks=[broken])


def lentils() -> list[dict[str, Any]]:
    """The lines of lentils by supplier, each with its order's supplier and delivery."""
    ran = run("reorder", "--as-of", AS_OF_TEXT, "--json")
    assert (ran.status, ran.err) == (0, "")
    orders = json.loads(ran.out)["orders"]
    found = [
        {**line, "supplier": order["supplier"], "delivery": order["delivery"]}
        for order in orders
        for line in order["lines"]
        if line["item"] == "LENTIL"
    ]
    return sorted(found, key=lambda line: str(line["supplier"]))


def test_breaks_reach_the_offers_in_three_queries(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    measures = item_measures(supply.case_sizes())
    with django_assert_num_queries(3):
        offers = supply.offers(measures)
    breaks = {(one.supplier, one.item): one.breaks for one in offers}
    assert breaks == {("DRY", "LENTIL"): ((4, Decimal(14)),), ("GRO", "LEEK"): ()}


def test_a_price_break_counts_for_nothing_without_the_setting(settings: Settings) -> None:
    settings.REORDER_PRICE_BREAKS = False
    (line,) = lentils()
    assert (line["cases"], line["price"], line["line_value"]) == (3, "21", "63.00")
    assert line["reasons"]["price_break_extra"] == "0"
    assert "weighed" not in line["reasons"]


def test_a_price_break_that_pays_is_in_the_document_and_on_the_stored_line(
    settings: Settings,
) -> None:
    """4 cases at 14.00 for 3 at 21.00: 28.00 saved."""
    settings.REORDER_PRICE_BREAKS = True
    (line,) = lentils()
    assert (line["cases"], line["price"], line["line_value"]) == (4, "14", "56.00")
    reasons = line["reasons"]
    assert (reasons["price_break_extra"], reasons["rounding"]) == ("10", "5")
    assert reasons["rule"] == "R13"
    taken = [(one["taken"], one["instead"]) for one in reasons["weighed"]]
    assert taken == [("price_break", "as_needed")]
    stored = OrderLine.objects.get(item__code="LENTIL")
    assert (stored.cases, float(stored.price)) == (4, 14)


@pytest.mark.parametrize("on", [False, True])
def test_a_bridge_is_an_order_of_its_own(settings: Settings, on: bool) -> None:
    """With DRY coming on Friday only, GRO brings on Tuesday what Wednesday needs;
    the 5 kg that it leaves do not spare a case of the 20 kg of Saturday."""
    settings.REORDER_BRIDGE = on
    settings.REORDER_PRICE_BREAKS = False
    raw = sheets()
    dry = next(row for row in raw["suppliers"] if row["code"] == "DRY")
    second = {**raw["supplier_items"][1], "supplier": "GRO", "price": "30", "rank": "2"}
    load(suppliers=[{**dry, "delivery_days": "fri"}], supplier_items=[second])
    book("COM", "2026-03-07", "LENTIL", 20)
    found = [(one["supplier"], one["delivery"], one["cases"]) for one in lentils()]
    friday = ("DRY", "2026-03-06", 2)
    assert found == ([friday, ("GRO", "2026-03-03", 3)] if on else [friday])
    drafts = OrderLine.objects.filter(item__code="LENTIL").count()
    assert drafts == len(found)
    assert lentils() == lentils()
