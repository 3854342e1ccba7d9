"""The items sheet from the house's lists, and what allergens are stated of each."""

from __future__ import annotations

from purchasing.exchange.demo.dishes import DISHES
from purchasing.exchange.demo.ingredients import DRINKS, INGREDIENTS, PACKAGING
from purchasing.exchange.demo.preps import PREPS
from purchasing.exchange.demo.table import Row, in_columns, yes

# The nine of US law: FALCPA 2004 and the FASTER Act 2021.
ALLERGENS = (
    "milk",
    "eggs",
    "fish",
    "crustacean shellfish",
    "tree nuts",
    "peanuts",
    "wheat",
    "soybeans",
    "sesame",
)

COLUMNS = (
    "code",
    "name",
    "kind",
    "unit",
    "storage",
    "shelf_life_days",
    "shelf_life_opened_days",
    "shelf_life_thawed_days",
    "thaw_hours",
    "may_freeze",
    "grams_per_ml",
    "grams_per_each",
    "tcs",
    "ready_to_eat",
    "traceability_listed",
    "allergens",
    "allergens_may",
    "allergens_free",
    "sale_price",
    "on_return",
    "use_per",
    "can_be_left_off",
    "walk_order",
)

# Short headings of the house's lists.
_LONG = {
    "life": "shelf_life_days",
    "opened": "shelf_life_opened_days",
    "thawed": "shelf_life_thawed_days",
    "thaw": "thaw_hours",
    "g_ml": "grams_per_ml",
    "g_each": "grams_per_each",
    "price": "sale_price",
    "returns": "on_return",
    "use": "use_per",
}
_FLAGS = {
    "tcs": "T",
    "ready_to_eat": "R",
    "traceability_listed": "L",
    "may_freeze": "F",
    "can_be_left_off": "G",
}


def item_rows() -> list[Row]:
    """Bought, made and sold, each list in the order in which its shelf is walked."""
    kinds = (
        ("ingredient", INGREDIENTS),
        ("packaging", PACKAGING),
        ("resale", DRINKS),
        ("prep", PREPS),
        ("menu", DISHES),
    )
    rows = [
        {**_item(row), "kind": kind, "walk_order": "" if kind == "menu" else str(place)}
        for kind, rows in kinds
        for place, row in enumerate(rows, start=1)
    ]
    return in_columns(COLUMNS, rows)


def _item(row: Row) -> Row:
    named = {_LONG.get(heading, heading): cell for heading, cell in row.items()}
    flags = row.get("is", "")
    said = {column: yes(letter in flags) for column, letter in _FLAGS.items()}
    return {"unit": "each", **named, **said, **_allergens(row)}


def _allergens(row: Row) -> Row:
    """What is bought to cook with states all nine words or, with a question mark, none;
    what is made takes its words from its lines."""
    contains, may = row.get("contains"), row.get("may", "")
    if contains is None or contains == "?":
        return {}
    named = {*contains.split(";"), *may.split(";")}
    free = ";".join(word for word in ALLERGENS if word not in named)
    return {"allergens": contains, "allergens_may": may, "allergens_free": free}
