"""The sheets of the kitchen, column by column, with a note on each for the empty workbook."""

from __future__ import annotations

from inventory.exchange.grammar import (
    WEEKDAYS,
    Column,
    Parse,
    Sheet,
    code,
    day,
    hour,
    number,
    one_of,
    text,
    unit,
    weekdays,
    whole,
    words,
    yes_no,
)
from inventory.models import Item, Location, Lot, StorageArea

SETTING_KEYS = (
    "business_name",
    "time_zone",
    "currency",
    "default_service_level",
    "holding_rate_per_year",
    "week_starts",
    "price_alert_pct",
    "allergen_list",
    "leave_share",
)
DAYS_NOTE = "Weekdays such as mon;thu"


def must(name: str, parse: Parse, note: str) -> Column:
    """A required column."""
    return Column(name, parse, note, required=True)


def choice(name: str, choices: list[str], note: str, *, required: bool = False) -> Column:
    empty = None if required else ""
    return Column(name, one_of(choices), note, required, empty, tuple(choices))


def flag(name: str, note: str) -> Column:
    return Column(name, yes_no, note, empty=False, choices=("yes", "no"))


def optional_text(name: str, note: str, longest: int = 120) -> Column:
    return Column(name, text(longest), note, empty="")


_life = whole(most=36_500)  # what keeps a century does not expire

SETTINGS = Sheet(
    "settings",
    (
        choice("key", list(SETTING_KEYS), "Which setting", required=True),
        must("value", text(200), "Its value"),
    ),
    key=("key",),
)

LOCATIONS = Sheet(
    "locations",
    (
        must("code", code, "Short code of the location"),
        must("name", text(), "Its name"),
        choice("kind", Location.Kind.values, "Commissary, truck or kitchen", required=True),
        Column("supplied_by", code, "Location it is supplied by; blank: buys from suppliers"),
        Column("receives", weekdays, f"{DAYS_NOTE}; blank: every day", empty=[]),
        Column("opens", hour, "Working hours begin, HH:MM"),
        Column("closes", hour, "Working hours end, HH:MM"),
        Column("load_time", hour, "When trucks are loaded, HH:MM"),
        Column("litres", number(above=0), "Room for goods, in litres"),
    ),
    key=("code",),
)

LOCATION_CLOSURES = Sheet(
    "location_closures",
    (
        must("location", code, "Location that is closed"),
        must("date", day, "The day, YYYY-MM-DD"),
        optional_text("reason", "Why", 200),
    ),
    key=("location", "date"),
)

STORAGE_AREAS = Sheet(
    "storage_areas",
    (
        must("location", code, "Location it is in"),
        must("code", code, "Short code of the area"),
        must("name", text(), "Its name"),
        choice("kind", StorageArea.Kind.values, "Frozen, chilled, dry or hot", required=True),
        Column("min_temp", number(least=None), "Coldest allowed"),
        Column("max_temp", number(least=None), "Warmest allowed"),
        Column("temp_unit", one_of(["F", "C"]), "F or C", empty="F", choices=("F", "C")),
        Column("walk_order", whole(), "Place in the walk through the kitchen"),
        Column("litres", number(above=0), "Room, in litres"),
    ),
    key=("location", "code"),
)

ITEMS = Sheet(
    "items",
    (
        must("code", code, "Short code of the item"),
        must("name", text(), "Its name"),
        choice("kind", Item.Kind.values, "What it is", required=True),
        must("unit", unit, "Unit people read it in, such as kg, lb, each"),
        choice("storage", Item.Storage.values, "Frozen, chilled or dry"),
        Column(
            "shelf_life_days",
            _life,
            "Days after receiving or making; 0: that day only",
        ),
        Column("shelf_life_opened_days", _life, "Days after opening"),
        Column("shelf_life_thawed_days", _life, "Days after thawing"),
        Column("thaw_hours", number(), "Hours to thaw before it can be worked"),
        flag("may_freeze", "May it be frozen here?"),
        Column("grams_per_ml", number(above=0), "Density, for volume to weight"),
        Column("grams_per_each", number(above=0), "Weight of one, for count to weight"),
        flag("tcs", "Must it be kept hot or cold to be safe?"),
        flag("ready_to_eat", "Is it eaten without more cooking?"),
        flag("traceability_listed", "Is it on the traceability list?"),
        Column("allergens", words(), "Allergens it contains, with ;", empty=[]),
        Column("allergens_may", words(), "Allergens it may contain, with ;", empty=[]),
        Column("allergens_free", words(), "Allergens it is stated free from, with ;", empty=[]),
        Column("sale_price", number(), "Price per unit, for what is sold"),
        choice("on_return", Item.OnReturn.values, "What happens to what comes back"),
        choice("use_per", Item.UsePer.values, "What its use goes by"),
        flag("can_be_left_off", "A garnish that a dish can go without?"),
        Column("litres_per_unit", number(above=0), "Room one unit takes"),
        Column("walk_order", whole(), "Place on the shelf walk"),
    ),
    key=("code",),
)

ITEM_UNITS = Sheet(
    "item_units",
    (
        must("item", code, "Item the word belongs to"),
        must("unit", unit, "Your own word, such as pan"),
        must("qty", number(above=0), "How much one of it holds"),
        must("of_unit", unit, "In this unit"),
    ),
    key=("item", "unit"),
)

MENU = Sheet(
    "menu",
    (
        must("location", code, "Where it is sold"),
        must("item", code, "What is sold"),
        Column("from", day, "First day; blank: always"),
        Column("to", day, "Last day; blank: open-ended"),
        Column("price", number(), "Price there, if it differs"),
        optional_text("site", "Only at this site"),
    ),
    key=("location", "item", "site", "from"),
)

RECIPES = Sheet(
    "recipes",
    (
        must("item", code, "What it makes"),
        must("makes_qty", number(above=0), "How much the lines make"),
        must("makes_unit", unit, "In this unit"),
        Column("made_at", code, "Where; blank: the commissary"),
        Column("lead_hours", number(), "Hands-off hours after the work", empty=0),
        Column("hands_on_minutes", whole(), "Minutes of work"),
        Column("batch_min_qty", number(above=0), "Smallest batch"),
        Column("batch_max_qty", number(above=0), "Largest batch"),
        Column("batch_unit", unit, "Unit of the batch limits; blank: makes_unit", empty=""),
        Column("batch_minutes", whole(), "Minutes a batch occupies the equipment"),
        optional_text("equipment", "What it is made on", 80),
    ),
    key=("item",),
)

RECIPE_LINES = Sheet(
    "recipe_lines",
    (
        must("recipe", code, "Item of the recipe"),
        must("item", code, "What goes in"),
        must("qty", number(above=0), "Usable quantity"),
        must("unit", unit, "In this unit"),
        Column("yield_pct", number(above=0), "Usable share of what is drawn, in %; blank: 100"),
    ),
    key=("recipe", "item"),
)

STOPS = Sheet(
    "stops",
    (
        must("location", code, "Which truck"),
        must("date", day, "The day on which it opens, YYYY-MM-DD"),
        must("opens", hour, "HH:MM"),
        must("closes", hour, "HH:MM"),
        must("site", text(), "Where it stands"),
        optional_text("event", "Event, if any"),
        Column("expected_covers", number(), "Guests expected"),
        Column("guaranteed_covers", number(), "Guests guaranteed"),
        flag("cancelled", "Will it not take place?"),
        Column("site_fee", number(), "Fee in money"),
        Column("site_fee_pct", number(), "Fee as share of takings, in %"),
        Column("crew_hours", number(), "Hours of crew"),
    ),
    key=("location", "date", "opens", "site"),
)

SALES = Sheet(
    "sales",
    (
        must("location", code, "Where it was sold"),
        must("date", day, "The day, YYYY-MM-DD"),
        must("item", code, "What was sold"),
        must("qty", number(), "How many, in the item's unit"),
        optional_text("site", "At which site"),
        Column("opens", hour, "Opening of the stop, where a truck has two that day"),
        Column("net_amount", number(least=None), "Takings without tax"),
        Column("sold_out_at", hour, "When it was sold out"),
    ),
    key=("location", "date", "opens", "site", "item"),
)

BOOKINGS = Sheet(
    "bookings",
    (
        must("location", code, "Who serves it"),
        must("date", day, "The day, YYYY-MM-DD"),
        must("item", code, "What is booked"),
        must("qty", number(), "How much"),
        must("unit", unit, "In this unit"),
        Column(
            "status",
            one_of(["enquiry", "confirmed"]),
            "Blank: confirmed",
            empty="confirmed",
            choices=("enquiry", "confirmed"),
        ),
        optional_text("customer", "For whom"),
        Column("final_by", day, "Final numbers by"),
        Column("price", number(), "Price agreed"),
        Column("deposit", number(), "Deposit paid"),
    ),
)

USAGE = Sheet(
    "usage",
    (
        must("location", code, "Where"),
        must("date", day, "The day, YYYY-MM-DD"),
        must("item", code, "What was used"),
        must("qty", number(), "How much"),
        must("unit", unit, "In this unit"),
    ),
    key=("location", "date", "item"),
)

STOCK = Sheet(
    "stock",
    (
        must("location", code, "Where it is"),
        must("item", code, "What it is"),
        must("qty", number(), "How much"),
        must("unit", unit, "In this unit"),
        optional_text("lot", "Supplier's lot code", 40),
        Column("received", day, "When it came or was made"),
        Column("use_by", day, "Last day of use; blank: received + shelf_life_days"),
        Column("unit_cost", number(), "Cost per g, ml or each"),
        Column("area", code, "Storage area"),
        flag("hold", "Is it on hold?"),
        choice("state", Lot.State.values, "Frozen, chilled, opened and so on"),
    ),
)

KITCHEN_SHEETS = (
    SETTINGS,
    LOCATIONS,
    LOCATION_CLOSURES,
    STORAGE_AREAS,
    ITEMS,
    ITEM_UNITS,
    MENU,
    RECIPES,
    RECIPE_LINES,
    STOPS,
    SALES,
    BOOKINGS,
    USAGE,
    STOCK,
)

__all__ = ["DAYS_NOTE", "KITCHEN_SHEETS", "WEEKDAYS"]
