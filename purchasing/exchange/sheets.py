"""The sheets of purchasing, column by column."""

from __future__ import annotations

from inventory.exchange.grammar import (
    WEEKDAYS,
    Column,
    Sheet,
    code,
    day,
    email,
    gtin,
    hour,
    number,
    one_of,
    text,
    unit,
    weekday,
    weekdays,
    whole,
)
from inventory.exchange.sheets import DAYS_NOTE, choice, flag, must, optional_text
from purchasing.models import Par, Supplier

SUPPLIERS = Sheet(
    "suppliers",
    (
        must("code", code, "Short code of the supplier"),
        must("name", text(), "Its name"),
        Column("email", email, "Where orders go", empty=""),
        optional_text("phone", "Telephone", 40),
        optional_text("account", "Our account there", 40),
        must("order_days", weekdays, f"{DAYS_NOTE}, on which orders are taken"),
        must("cutoff", hour, "Orders are in by, HH:MM"),
        must("lead_days", whole(most=365), "Calendar days from order to delivery"),
        must("delivery_days", weekdays, f"{DAYS_NOTE}, on which it delivers"),
        Column("arrives", hour, "Hour of the delivery; blank: before the day's first use"),
        Column("minimum_order", number(), "Smallest order in money"),
        choice("below_minimum", Supplier.BelowMinimum.values, "Blank: refuse"),
        Column("delivery_fee", number(), "Fee per delivery"),
    ),
    key=("code",),
)

SUPPLIER_CLOSURES = Sheet(
    "supplier_closures",
    (
        must("supplier", code, "Which supplier"),
        must("date", day, "No orders taken, no deliveries, YYYY-MM-DD"),
    ),
    key=("supplier", "date"),
)

SUPPLIER_ITEMS = Sheet(
    "supplier_items",
    (
        must("supplier", code, "Who sells it"),
        must("item", code, "What it is"),
        must("pack_qty", number(above=0), "How much a case holds"),
        must("pack_unit", unit, "In this unit"),
        must("price", number(), "Price per priced_per"),
        Column("priced_per", unit, "case or a unit of weight; blank: case", empty="case"),
        optional_text("sku", "Supplier's number; needed where one item has two offers", 40),
        Column("gtin", gtin, "GTIN on the case", empty=""),
        optional_text("pack_text", "Pack as the supplier writes it", 80),
        Column("piece_price", number(), "Price of a single piece"),
        Column("pieces_per_case", whole(least=1), "Pieces in a case"),
        Column("minimum_cases", whole(least=1), "Fewest cases; blank: 1", empty=1),
        Column("case_multiple", whole(least=1), "Cases come in steps of; blank: 1", empty=1),
        Column("rank", whole(least=1), "1: first choice; blank: 1", empty=1),
        flag("catch_weight", "Does each case weigh differently?"),
        Column("nominal_qty", number(above=0), "Usual quantity of a catch-weight case"),
        Column("valid_from", day, "Price holds from; blank: always"),
    ),
    key=("supplier", "item", "sku", "valid_from"),
    once=False,  # exchange.checks tells two offers from two prices
)

PRICE_BREAKS = Sheet(
    "price_breaks",
    (
        must("supplier", code, "Who sells it"),
        must("item", code, "What it is"),
        must("from_cases", whole(least=1), "From so many cases on"),
        must("price", number(), "Price per priced_per"),
        optional_text("sku", "Supplier's number", 40),
    ),
    key=("supplier", "item", "sku", "from_cases"),
)

PARS = Sheet(
    "pars",
    (
        must("location", code, "Where"),
        must("item", code, "What"),
        Column("weekday", weekday, "mon to sun; blank: every day", choices=WEEKDAYS),
        Column("par", number(), "How much is wanted"),
        Column("unit", unit, "In this unit; blank: the item's", empty=""),
        choice("basis", Par.Basis.values, "What decides", required=True),
        Column("service_level", number(least=None), "Chance of not running out, 0 to 1"),
        Column("supplied_by", code, "Location it comes from, if not the location's own"),
    ),
    key=("location", "item", "weekday"),
)

OPEN_ORDERS = Sheet(
    "open_orders",
    (
        must("supplier", code, "From whom"),
        must("po", text(50), "Number of the order"),
        must("location", code, "Where it goes"),
        must("item", code, "What is coming"),
        must("cases", whole(), "Cases ordered"),
        must("due", day, "Delivery day, YYYY-MM-DD"),
        optional_text("sku", "Supplier's number", 40),
        Column("confirmed_cases", whole(), "Cases confirmed"),
        Column(
            "status",
            one_of(["approved", "sent"]),
            "Blank: sent",
            empty="sent",
            choices=("approved", "sent"),
        ),
    ),
    key=("supplier", "po", "location", "item", "sku", "due"),
)

PURCHASING_SHEETS = (
    SUPPLIERS,
    SUPPLIER_CLOSURES,
    SUPPLIER_ITEMS,
    PRICE_BREAKS,
    PARS,
    OPEN_ORDERS,
)
