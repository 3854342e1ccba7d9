"""The sheets of the invented scenario: nothing hangs loose, and prices could be real."""

from __future__ import annotations

from datetime import datetime

import pytest

from purchasing.exchange.demo.measures import Measures
from purchasing.exchange.demo.pace import costs
from purchasing.exchange.demo.table import Row
from purchasing.exchange.demo.workbook import CARDS
from tests.purchasing.exchange.demo_readings import MOMENTS, book, where

at_any_moment = pytest.mark.parametrize("as_of", MOMENTS.values(), ids=MOMENTS)

REFERENCES = {
    "locations.supplied_by": "locations.code",
    "location_closures.location": "locations.code",
    "storage_areas.location": "locations.code",
    "item_units.item": "items.code",
    "menu.location": "locations.code",
    "menu.item": "items.code",
    "supplier_closures.supplier": "suppliers.code",
    "supplier_items.supplier": "suppliers.code",
    "supplier_items.item": "items.code",
    "price_breaks.supplier": "suppliers.code",
    "price_breaks.item": "items.code",
    "price_breaks.sku": "supplier_items.sku",
    "pars.location": "locations.code",
    "pars.item": "items.code",
    "pars.supplied_by": "locations.code",
    "recipes.item": "items.code",
    "recipe_lines.recipe": "recipes.item",
    "recipe_lines.item": "items.code",
    "stops.location": "locations.code",
    "sales.location": "locations.code",
    "sales.item": "items.code",
    "bookings.location": "locations.code",
    "bookings.item": "items.code",
    "usage.location": "locations.code",
    "usage.item": "items.code",
    "stock.location": "locations.code",
    "stock.item": "items.code",
    "open_orders.supplier": "suppliers.code",
    "open_orders.location": "locations.code",
    "open_orders.item": "supplier_items.item",
    "open_orders.sku": "supplier_items.sku",
}


@pytest.mark.parametrize(("points", "at"), REFERENCES.items(), ids=REFERENCES)
def test_no_row_names_what_is_not_there(points: str, at: str) -> None:
    (sheet, column), (other, key) = points.split("."), at.split(".")
    there = {row[key] for row in book()[other]} | {""}
    assert {row[column] for row in book()[sheet]} <= there


@at_any_moment
def test_natural_keys_are_unique(as_of: datetime) -> None:
    keys = {
        "items": ("code",),
        "menu": ("location", "item", "site", "from"),
        "supplier_items": ("supplier", "item", "sku"),
        "recipe_lines": ("recipe", "item"),
        "stops": ("location", "date", "opens", "site"),
        "sales": ("location", "date", "opens", "site", "item"),
        "usage": ("location", "date", "item"),
        "bookings": ("location", "date", "item", "customer"),
        "open_orders": ("po", "item", "sku"),
    }
    for sheet, columns in keys.items():
        found = [tuple(row[column] for column in columns) for row in book(as_of)[sheet]]
        assert len(found) == len(set(found)), sheet


@at_any_moment
def test_a_lot_code_stands_for_one_lot_of_one_item(as_of: datetime) -> None:
    lots = [(row["location"], row["item"], row["lot"]) for row in book(as_of)["stock"]]
    coded = [lot for lot in lots if lot[2]]
    assert len(coded) == len(set(coded))
    blank = [lot for lot in lots if not lot[2]]
    assert len(blank) == len(set(blank))


def test_areas_of_stock_are_those_of_the_place() -> None:
    areas = {(row["location"], row["code"]) for row in book()["storage_areas"]}
    assert {(row["location"], row["area"]) for row in book()["stock"]} <= areas


# What a small buyer pays, in dollars per pound of weight or per piece (own judgement).
BELIEVABLE = [
    ("PORK-BUTT", 1.5, 4), ("BEEF-GROUND", 3.5, 7), ("CHICKEN-THIGH", 1, 3.5),
    ("SHRIMP", 4, 10), ("FLOUR", 0.25, 0.8), ("RICE", 0.4, 1.2), ("ONION", 0.3, 1),
    ("CABBAGE", 0.35, 1), ("EGG", 0.12, 0.5), ("BUTTER", 2.5, 5), ("CHEDDAR", 2, 5),
    ("BOWL-32", 0.08, 0.4), ("NAPKIN", 0.003, 0.02), ("GINGER-FIZZ", 0.4, 1.5),
]  # fmt: skip


@pytest.mark.parametrize(("item", "low", "high"), BELIEVABLE, ids=[row[0] for row in BELIEVABLE])
def test_prices_are_ones_a_buyer_would_believe(item: str, low: float, high: float) -> None:
    for row in where(book()["supplier_items"], item=item):
        held = float(row["nominal_qty"] or row["pack_qty"])
        price = float(row["price"]) / (held if row["priced_per"] == "case" else 1)
        assert low <= price <= high, row


def test_a_break_in_the_price_is_a_saving() -> None:
    prices = {(r["supplier"], r["item"], r["sku"]): r["price"] for r in book()["supplier_items"]}
    for row in book()["price_breaks"]:
        whole = prices[row["supplier"], row["item"], row["sku"]]
        assert 0.85 * float(whole) <= float(row["price"]) < float(whole), row


def test_the_market_is_the_dearer_second_choice() -> None:
    dearest = {row["item"]: _by_pack_unit(row) for row in where(book()["supplier_items"], rank="1")}
    for row in where(book()["supplier_items"], supplier="DROVERS"):
        assert row["rank"] == "2"
        assert dearest[row["item"]] < _by_pack_unit(row) <= 1.6 * dearest[row["item"]], row


def _by_pack_unit(row: Row) -> float:
    return float(row["price"]) / (float(row["pack_qty"]) if row["priced_per"] == "case" else 1)


def test_a_plate_costs_between_a_tenth_and_a_third_of_its_price() -> None:
    measures = Measures.of(book()["items"], book()["item_units"])
    cost = costs(book()["supplier_items"], CARDS, measures)
    for row in where(book()["items"], kind="menu"):
        assert 0.1 <= cost[row["code"]] / float(row["sale_price"]) <= 0.34, row["code"]


def test_every_cell_is_text_and_rows_of_a_sheet_share_their_columns() -> None:
    for sheet, rows in book().items():
        assert len({tuple(row) for row in rows}) == 1, sheet
        assert all(type(cell) is str for row in rows for cell in row.values()), sheet


CONTRACT = {
    "settings": "key value",
    "locations": "code name kind supplied_by receives opens closes load_time litres",
    "location_closures": "location date reason",
    "storage_areas": "location code name kind min_temp max_temp temp_unit walk_order litres",
    "items": "code name kind unit storage shelf_life_days shelf_life_opened_days"
    " shelf_life_thawed_days thaw_hours may_freeze grams_per_ml grams_per_each tcs ready_to_eat"
    " traceability_listed allergens allergens_may allergens_free sale_price on_return use_per"
    " can_be_left_off litres_per_unit walk_order",
    "item_units": "item unit qty of_unit",
    "menu": "location item from to price site",
    "suppliers": "code name email phone account order_days cutoff lead_days delivery_days arrives"
    " minimum_order below_minimum delivery_fee",
    "supplier_closures": "supplier date",
    "supplier_items": "supplier item pack_qty pack_unit price priced_per sku gtin pack_text"
    " piece_price pieces_per_case minimum_cases case_multiple rank catch_weight nominal_qty"
    " valid_from",
    "price_breaks": "supplier item from_cases price sku",
    "pars": "location item weekday par unit basis service_level supplied_by",
    "recipes": "item makes_qty makes_unit made_at lead_hours hands_on_minutes batch_min_qty"
    " batch_max_qty batch_unit batch_minutes equipment",
    "recipe_lines": "recipe item qty unit yield_pct",
    "stops": "location date opens closes site event expected_covers guaranteed_covers cancelled"
    " site_fee site_fee_pct crew_hours",
    "sales": "location date item qty site opens net_amount sold_out_at",
    "bookings": "location date item qty unit status customer final_by price deposit",
    "usage": "location date item qty unit",
    "stock": "location item qty unit lot received use_by unit_cost area hold state",
    "open_orders": "supplier po location item cases due sku confirmed_cases status",
}


@pytest.mark.parametrize(("sheet", "columns"), CONTRACT.items(), ids=CONTRACT)
def test_columns_are_those_of_the_workbook(sheet: str, columns: str) -> None:
    assert set(book()[sheet][0]) <= set(columns.split())


def test_every_sheet_of_the_workbook_is_filled() -> None:
    assert set(book()) == set(CONTRACT)
