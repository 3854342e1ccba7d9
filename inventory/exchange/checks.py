"""Checks between the rows of the kitchen's sheets: references, units, cycles, order of dates."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Callable, Iterator
from datetime import time
from decimal import Decimal

from inventory.engine.recipes import cycle_problem, find_cycle
from inventory.engine.units import STANDARD_UNITS
from inventory.exchange.grammar import WEEKDAYS, Book, Row, figure, shown
from inventory.exchange.known import Known
from inventory.models import Item
from inventory.problems import Problem

DAY_MINUTES = 24 * 60
Rule = Callable[[str], bool]

# Column of each sheet that names something of another sheet.
_LOCATIONS = (
    ("locations", "supplied_by"),
    ("location_closures", "location"),
    ("storage_areas", "location"),
    ("menu", "location"),
    ("recipes", "made_at"),
    ("stops", "location"),
    ("sales", "location"),
    ("bookings", "location"),
    ("usage", "location"),
    ("stock", "location"),
    ("pars", "location"),
    ("pars", "supplied_by"),
    ("open_orders", "location"),
)
_ITEMS = (
    ("item_units", "item"),
    ("menu", "item"),
    ("recipes", "item"),
    ("recipe_lines", "item"),
    ("sales", "item"),
    ("bookings", "item"),
    ("usage", "item"),
    ("stock", "item"),
    ("supplier_items", "item"),
    ("price_breaks", "item"),
    ("pars", "item"),
    ("open_orders", "item"),
)
# Columns that hold a unit of the row's item, and those of the quantities in it.
_UNITS = (
    ("recipes", "makes_unit", ("makes_qty",)),
    ("recipes", "batch_unit", ("batch_min_qty", "batch_max_qty")),
    ("recipe_lines", "unit", ("qty",)),
    ("bookings", "unit", ("qty",)),
    ("usage", "unit", ("qty",)),
    ("stock", "unit", ("qty",)),
    ("supplier_items", "pack_unit", ("pack_qty", "nominal_qty")),
    ("pars", "unit", ("par",)),
)


def check_kitchen(book: Book, known: Known) -> None:
    """Adds to the book's problems and warnings."""
    for check in (
        _references,
        _settings,
        _units_of_items,
        _allergens_once,
        _units_of_rows,
        _places,
        _recipes,
        _order_of_dates,
    ):
        book.complain(check(book, known))
    book.warn(_doubtful_lives(book, known))


def _references(book: Book, known: Known) -> Iterator[Problem]:
    for columns, what, where in (
        (_LOCATIONS, "location", "locations"),
        (_ITEMS, "item", "items"),
        ((("recipe_lines", "recipe"),), "recipe", "recipes"),
    ):
        codes = known.codes[where]
        for sheet, column in columns if where not in book.unread else ():
            for row in book[sheet]:
                if row[column] is not None and row[column] not in codes:
                    yield unknown(row, column, what, where)
    for row in book["stock"] if "storage_areas" not in book.unread else ():
        if row["area"] is not None and (row["location"], row["area"]) not in known.areas:
            yield unknown(row, "area", "area of this location", "storage_areas")


def unknown(row: Row, column: str, what: str, where: str) -> Problem:
    return row.problem(
        column,
        f"there is no {what} {shown(row[column])}; add it to {where} or correct the code",
        "unknown_code",
    )


def _settings(book: Book, known: Known) -> Iterator[Problem]:
    for row in book["settings"]:
        wanted = _SETTING_RULES.get(row["key"])
        if wanted and not wanted[0](row["value"]):
            yield row.problem("value", f"{shown(row['value'])} {wanted[1]}", "setting")


def _is_zone(value: str) -> bool:
    try:
        zoneinfo.ZoneInfo(value)
    except (KeyError, ValueError, OSError):
        return False
    return True


def _between(low: str, high: str, *, ends: bool) -> Rule:
    def rule(value: str) -> bool:
        if not re.fullmatch(r"\d*\.?\d+", value) or len(value) > 20:
            return False
        found = Decimal(value)
        inside = Decimal(low) < found < Decimal(high)
        return inside or (ends and Decimal(low) <= found <= Decimal(high))

    return rule


_SETTING_RULES: dict[str, tuple[Rule, str]] = {
    "time_zone": (_is_zone, "is not a time zone; it is a name such as Europe/Paris"),
    "currency": (
        lambda value: re.fullmatch(r"[A-Z]{3}", value) is not None,
        "is not a currency; it is a code of three letters such as EUR",
    ),
    "default_service_level": (
        _between("0", "1", ends=False),
        "must lie between 0 and 1, such as 0.95",
    ),
    "holding_rate_per_year": (_between("0", "10", ends=True), "must be a share such as 0.25"),
    "leave_share": (_between("0", "1", ends=True), "must be a share from 0 to 1"),
    "price_alert_pct": (_between("0", "1000", ends=True), "must be a percentage such as 5"),
    "week_starts": (lambda value: value in WEEKDAYS, f"is one of {' '.join(WEEKDAYS)}"),
    "allergen_list": (lambda value: value in ("us9", "eu14"), "is us9 or eu14"),
}


def _units_of_items(book: Book, known: Known) -> Iterator[Problem]:
    for row in book["items"]:
        item, unit = row["code"], row["unit"]
        if item not in known.items and not known.is_unclear(item, unit):
            words = " ".join(sorted(STANDARD_UNITS))
            message = f"{shown(unit)} is not a unit of it; use one of {words}, or a word of its own"
            yield row.problem("unit", f"{message} from item_units", "unknown_unit")
        elif item in known.bases and (base := known.items[item].base) != known.bases[item]:
            yield row.problem(
                "unit",
                f"{unit} counts it in {base}, but its lots are counted in {known.bases[item]}; "
                f"keep a unit of {known.bases[item]}",
                "base_unit_changed",
            )
    for row in book["item_units"]:
        if row["unit"] in STANDARD_UNITS or row["unit"] == "case":
            message = f"{shown(row['unit'])} has a meaning already; use a word of your own"
            yield row.problem("unit", message, "unit_taken")
        elif problem := known.unit_problem(row, row["item"], "of_unit", row["unit"]):
            yield problem


def _allergens_once(book: Book, known: Known) -> Iterator[Problem]:
    """Nobody can say both *contains* and *free* of one allergen."""
    for row in book["items"]:
        said: dict[str, str] = {}
        for column in ("allergens", "allergens_may", "allergens_free"):
            for word in row[column] or ():
                if word in said:
                    message = f"{shown(word)} stands under {said[word]} too; keep one of them"
                    yield row.problem(column, message, "allergen_twice")
                said.setdefault(word, column)


def _units_of_rows(book: Book, known: Known) -> Iterator[Problem]:
    for sheet, column, quantities in _UNITS:
        for row in book[sheet]:
            unit = row[column] or _unit_if_blank(row, known)
            problem = known.unit_problem(row, row["item"], column, unit)
            if problem:
                yield problem
                continue
            for quantity in quantities:
                if problem := known.size_problem(row, row["item"], quantity, unit):
                    yield problem


def _unit_if_blank(row: Row, known: Known) -> str:
    if row.sheet == "recipes":
        return str(row["makes_unit"])
    measures = known.items.get(row["item"])
    return measures.unit if measures else ""


def _places(book: Book, known: Known) -> Iterator[Problem]:
    if chain := find_cycle({place: [by] for place, by in known.supplied_by.items() if by}):
        way = " is supplied by ".join([*chain, chain[0]])
        row = next((row for row in book["locations"] if row["code"] in chain), None)
        message = f"{way}: name one that buys from suppliers"
        yield row.problem("supplied_by", message) if row else Problem("supply_circle", message)
    for row in book["locations"]:
        opens, closes = known.hours[row["code"]]
        if opens is not None and opens == closes:
            yield row.problem("closes", "is the same as opens; leave both blank for the whole day")
    for row in book["storage_areas"]:
        low, high = row["min_temp"], row["max_temp"]
        if low is not None and high is not None and low > high:
            yield row.problem("max_temp", f"{figure(high)} is colder than min_temp {figure(low)}")


def _recipes(book: Book, known: Known) -> Iterator[Problem]:
    if cycle := find_cycle(known.lines):
        sheet = book["recipe_lines"]
        row = next((r for r in sheet if r["recipe"] in cycle and r["item"] in cycle), None)
        problem = cycle_problem(cycle)
        yield row.problem("item", problem.message, problem.code) if row else problem
    for row in book["recipes"]:
        made_here = known.kinds.get(row["item"]) != Item.Kind.MENU
        homeless = row["made_at"] is None and known.commissary is None
        if made_here and homeless and "locations" not in book.unread:
            yield row.problem("made_at", "there is no commissary; say where it is made")
        yield from _batch(row, known)


def _batch(row: Row, known: Known) -> Iterator[Problem]:
    low, high = row["batch_min_qty"], row["batch_max_qty"]
    if low is not None and high is not None and low > high:
        yield row.problem(
            "batch_max_qty", f"{figure(high)} is less than batch_min_qty {figure(low)}"
        )
    place = row["made_at"] or known.commissary
    minutes = row["batch_minutes"] or 0
    day = _working_minutes(*known.hours.get(place or "", (None, None)))
    if minutes > day:
        yield row.problem(
            "batch_minutes",
            f"a batch of {minutes} minutes does not fit in the {day} working minutes of {place}; "
            "lengthen opens to closes, or put the hands-off part into lead_hours",
            "batch_too_long",
        )


def _working_minutes(opens: time | None, closes: time | None) -> int:
    """Hours that close before they open run past midnight."""
    start = _minutes(opens or time.min)
    end = _minutes(closes) if closes else DAY_MINUTES
    return end - start if end > start else end - start + DAY_MINUTES


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


# Sheet, the column that comes first, the one that comes on or after it.
_IN_ORDER = (
    ("menu", "from", "to"),
    ("stock", "received", "use_by"),
    ("bookings", "final_by", "date"),
)


def _order_of_dates(book: Book, known: Known) -> Iterator[Problem]:
    for sheet, first, then in _IN_ORDER:
        for row in book[sheet]:
            if row[first] and row[then] and row[then] < row[first]:
                message = f"{row[then]} is before {first} {row[first]}; it is that day or later"
                yield row.problem(then, message, "dates_out_of_order")


def _doubtful_lives(book: Book, known: Known) -> Iterator[Problem]:
    for row in book["items"]:
        made = row["code"] in known.codes["recipes"] or row["kind"] == Item.Kind.PREP
        if made and row["shelf_life_days"] == 7 and row["tcs"] and row["ready_to_eat"]:
            yield row.problem(
                "shelf_life_days",
                "7 days after is day 8: made ready-to-eat food that must be kept cold is kept 7 "
                "days in all, the day of making being the first, so 6. Local code and the "
                "licensed person in charge decide",
                "date_mark",
            )
    lives = {row["code"]: row["shelf_life_days"] for row in book["items"]}
    for row in book["recipes"]:
        hours, life = row["lead_hours"], lives.get(row["item"])
        if hours and life is not None and hours > 24 * max(life, 1):
            yield row.problem(
                "lead_hours",
                f"{figure(hours)} hands-off hours outlast the life of the item: "
                f"{_days(life)} after it is made. Correct one of them",
                "outlasts_life",
            )


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
