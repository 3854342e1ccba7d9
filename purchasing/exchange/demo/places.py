"""Tallowmere, a town that does not exist, and the kitchen that feeds it."""

from __future__ import annotations

from datetime import date, timedelta

from purchasing.exchange.demo.table import Row, table

ZONE = "America/Chicago"
COMMISSARY = "MILL"
COUNTER = "CORNER"

SETTINGS = table(
    f"""
    key | value
    business_name | Pleat & Ladle
    time_zone | {ZONE}
    currency | USD
    default_service_level | 0.9
    holding_rate_per_year | 0.18
    week_starts | mon
    price_alert_pct | 5
    allergen_list | us9
    leave_share | 0.5
    """
)

# The counter buys for itself; what it takes from the commissary instead is said by its pars.
LOCATIONS = table(
    """
    code | name | kind | supplied_by | receives | opens | closes | load_time | litres
    MILL | Mill Lane commissary | commissary | | mon;tue;wed;thu;fri;sat | 05:00 | 20:00 | 07:30 |
    PLEAT | Truck 1, Pleat | truck | MILL | | | | 07:30 | 1400
    LADLE | Truck 2, Ladle | truck | MILL | | | | 07:30 | 1250
    HEARTH | Truck 3, Hearth | truck | MILL | | | | 08:00 | 1250
    GRIDDLE | Truck 4, Griddle | truck | MILL | | | | 07:00 | 1100
    BASKET | Truck 5, Basket | truck | MILL | | | | 08:00 | 1100
    CORNER | The Corner Counter | kitchen | | tue;wed;thu;fri;sat | 11:00 | 21:00 | 09:00 |
    """
)

TRUCKS = tuple(row["code"] for row in LOCATIONS if row["kind"] == "truck")

_HOUSE_AREAS = table(
    """
    location | code | name | kind | min_temp | max_temp | temp_unit | walk_order | litres
    MILL | DOCK | Dry store by the dock | dry | | | | 1 | 9000
    MILL | SHELF | Packaging shelves | dry | | | | 2 | 12000
    MILL | WALKIN | Walk-in, raw left, cooked right | chilled | 33 | 41 | F | 3 | 11000
    MILL | FREEZER | Walk-in freezer | frozen | -10 | 0 | F | 4 | 6000
    MILL | HOLD | Hot cabinets | hot | 135 | | F | 5 | 800
    CORNER | LARDER | Larder | dry | | | | 1 | 1500
    CORNER | FRIDGE | Reach-ins behind the counter | chilled | 33 | 41 | F | 2 | 1400
    CORNER | CHEST | Chest freezer | frozen | -10 | 0 | F | 3 | 400
    CORNER | WELLS | Steam wells | hot | 135 | | F | 4 | 120
    """
)

_TRUCK_AREAS = table(
    """
    code | name | kind | min_temp | max_temp | temp_unit | walk_order | litres
    BINS | Bins under the counter | dry | | | | 1 | 500
    COLD | Reach-in | chilled | 33 | 41 | F | 2 | 420
    ICE | Drawer freezer | frozen | -10 | 0 | F | 3 | 160
    HOT | Hot wells | hot | 135 | | F | 4 | 110
    """
)

STORAGE_AREAS = _HOUSE_AREAS + [
    {"location": truck, **area} for truck in TRUCKS for area in _TRUCK_AREAS
]


def area_for(location: str, storage: str) -> str:
    """The area of a location that keeps goods of a storage class."""
    return next(
        area["code"]
        for area in STORAGE_AREAS
        if area["location"] == location and area["kind"] == storage
    )


COUNTER_SHUT_AGO = 52  # days; a boiler that failed


def closed_days(today: date) -> list[Row]:
    """One deep clean to come, on a Monday, when the fewest trucks are out."""
    monday = today + timedelta(days=14 + (-today.weekday()) % 7)
    return [
        {
            "location": COUNTER,
            "date": str(today - timedelta(days=COUNTER_SHUT_AGO)),
            "reason": "boiler repair",
        },
        {"location": COUNTER, "date": str(monday), "reason": "staff day"},
        {"location": COMMISSARY, "date": str(monday), "reason": "deep clean of the walk-ins"},
    ]
