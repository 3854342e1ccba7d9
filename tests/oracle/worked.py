"""Worked cases of the rules as workbooks: case K (one prep item) and case L (all levels)."""

from __future__ import annotations

from tests.oracle.cells import Row, Sheets


def rows(columns: str, *lines: str) -> list[Row]:
    """Rows from short lines: columns and cells are separated by blanks, ``-`` is blank."""
    names = columns.split()
    return [
        dict(zip(names, ("" if cell == "-" else cell for cell in line.split()), strict=True))
        for line in lines
    ]


SETTINGS = rows("key value", "time_zone Europe/Vienna", "currency EUR", "business_name Forepar")

CASE_K_AS_OF = "2026-03-02T06:00"

CASE_K: Sheets = {
    "settings": SETTINGS,
    "locations": rows(
        "code name kind supplied_by opens closes load_time",
        "COM Commissary commissary - 06:00 18:00 -",
        "A Truck-A truck COM - - 07:00",
    ),
    "items": rows(
        "code name kind unit shelf_life_days on_return",
        "BOWL Bowl menu each - -",
        "K Stew prep kg 3 discard",
        "PULSES Pulses ingredient kg - keep",
    ),
    "suppliers": rows(
        "code name order_days cutoff lead_days delivery_days",
        "S1 Dry-goods mon;tue;wed 14:00 1 wed;thu",
    ),
    "supplier_items": rows(
        "supplier item pack_qty pack_unit price", "S1 PULSES 2 kg 5.00"
    ),
    "pars": rows("location item basis", "COM PULSES forecast"),
    "recipes": rows(
        "item makes_qty makes_unit lead_hours batch_min_qty batch_max_qty batch_unit batch_minutes",
        "BOWL 1 each - - - - -",
        "K 10 kg 4 10 10 kg 60",
    ),
    "recipe_lines": rows(
        "recipe item qty unit yield_pct", "BOWL K 0.3 kg -", "K PULSES 2 kg 100"
    ),
    "stops": rows(
        "location date opens closes site", "A 2026-03-05 11:00 14:00 Market"
    ),
    "bookings": rows("location date item qty unit status", "A 2026-03-05 BOWL 50 each confirmed"),
    "stock": rows("location item qty unit lot use_by", "COM K 3 kg K1 2026-03-06"),
}  # fmt: skip

CASE_L_AS_OF = "2026-03-18T06:00"

CASE_L: Sheets = {
    "settings": SETTINGS,
    "locations": rows(
        "code name kind supplied_by opens closes load_time",
        "COM Commissary commissary - 06:00 16:00 -",
        "A Truck-A truck COM - - 07:00",
        "B Truck-B truck COM - - 19:30",
        "C Truck-C truck COM - - 07:00",
    ),
    "location_closures": rows("location date", "COM 2026-03-22"),
    "items": rows(
        "code name kind unit shelf_life_days on_return",
        "DISH Dish menu each - -",
        "FILL Filling prep kg 2 discard",
        "BASE Base prep kg 3 discard",
        "ROLL Roll ingredient each 4 keep",
        "CUP Cup packaging each - keep",
        "BEAN Bean ingredient kg - keep",
        "ONION Onion ingredient kg - keep",
    ),
    "suppliers": rows(
        "code name order_days cutoff lead_days delivery_days arrives",
        "S1 Greens thu;fri 14:00 1 mon;fri 08:00",
        "S2 Rolls mon;fri 14:00 1 tue;sat -",
        "S3 Pulses wed;fri 14:00 1 mon;thu 14:00",
    ),
    "supplier_items": rows(
        "supplier item pack_qty pack_unit price",
        "S1 ONION 2.5 kg 4.00",
        "S2 ROLL 24 each 9.60",
        "S2 CUP 25 each 3.00",
        "S3 BEAN 2 kg 5.00",
    ),
    "pars": rows(
        "location item basis",
        "COM BEAN forecast",
        "COM ONION forecast",
        "COM ROLL forecast",
        "COM CUP forecast",
    ),
    "recipes": rows(
        "item makes_qty makes_unit lead_hours batch_min_qty batch_max_qty batch_unit batch_minutes",
        "DISH 1 each - - - - -",
        "FILL 6 kg - 3 6 kg 30",
        "BASE 10 kg 12 10 10 kg 60",
    ),
    "recipe_lines": rows(
        "recipe item qty unit yield_pct",
        "DISH FILL 0.2 kg -",
        "DISH ROLL 1 each -",
        "DISH CUP 1 each -",
        "FILL BASE 3 kg -",
        "FILL ONION 1.2 kg 80",
        "BASE BEAN 4 kg 80",
    ),
    "stops": rows(
        "location date opens closes site",
        "A 2026-03-21 11:00 15:00 Market",
        "A 2026-03-22 11:00 15:00 Market",
        "B 2026-03-22 11:00 15:00 Harbour",
        "A 2026-03-23 11:00 15:00 Market",
    ),
    "bookings": rows(
        "location date item qty unit",
        "A 2026-03-21 DISH 60 each",
        "A 2026-03-22 DISH 40 each",
        "B 2026-03-22 DISH 70 each",
        "A 2026-03-23 DISH 50 each",
    ),
    "stock": rows(
        "location item qty unit lot use_by",
        "COM FILL 2 kg F1 2026-03-21",
        "COM BASE 4 kg B1 2026-03-21",
        "COM BEAN 1 kg BN1 -",
        "COM ONION 0.5 kg O1 -",
        "COM ROLL 80 each R1 2026-03-21",
        "COM CUP 50 each C1 -",
        "A FILL 1 kg F2 2026-03-22",
        "B ROLL 10 each R2 2026-03-21",
        "B ROLL 20 each R3 2026-03-22",
        "C CUP 30 each C2 -",
    ),
}  # fmt: skip
