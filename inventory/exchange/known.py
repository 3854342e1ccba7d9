"""What a workbook may refer to: what is stored already, and what it brings itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import time
from decimal import Decimal
from fractions import Fraction

from inventory.engine.units import ItemMeasures
from inventory.exchange.grammar import Book, Row
from inventory.models import Item, Location, Recipe, RecipeLine, StorageArea
from inventory.problems import Problem, Refused
from inventory.selectors.measures import CaseSize, Measures, item_measures


@dataclass(slots=True)
class Known:
    """``hours``: working hours by location; ``lines``: what each recipe takes."""

    locations: dict[str, str]  # code: kind
    hours: dict[str, tuple[time | None, time | None]]
    supplied_by: dict[str, str | None]
    areas: set[tuple[str, str]]
    items: dict[str, ItemMeasures]
    kinds: dict[str, str]
    recipes: set[str]
    lines: dict[str, set[str]]

    @property
    def commissary(self) -> str | None:
        return min((c for c, kind in self.locations.items() if kind == "commissary"), default=None)

    def measures(self) -> Measures:
        return Measures(self.items)

    def unit_problem(self, row: Row, item: str, column: str, unit: str) -> Problem | None:
        """Why ``unit`` cannot be turned into the item's base unit, if it cannot."""
        measures = self.items.get(item)
        if measures is None:
            return None  # said where the item is referred to
        try:
            measures.per(unit)
        except Refused as refused:
            return row.problem(column, refused.problems[0].message, refused.problems[0].code)
        return None

    def base_quantity(self, item: str, qty: Decimal, unit: str) -> Fraction | None:
        try:
            return Fraction(qty) * self.items[item].per(unit)
        except (Refused, KeyError):
            return None


def known_kitchen(book: Book, case_sizes: Mapping[str, CaseSize]) -> Known:
    """Stored facts with the workbook's laid over them, in a fixed number of queries."""
    known = _stored(case_sizes)
    _lay_over_places(known, book)
    _lay_over_items(known, book, case_sizes)
    known.recipes |= {row["item"] for row in book["recipes"]}
    for row in book["recipe_lines"]:
        known.lines.setdefault(row["recipe"], set()).add(row["item"])
    return known


def _stored(case_sizes: Mapping[str, CaseSize]) -> Known:
    measures = item_measures(case_sizes)
    lines: dict[str, set[str]] = defaultdict(set)
    for made, item in RecipeLine.objects.values_list("recipe__item__code", "item__code"):
        lines[made].add(item)
    places = list(Location.objects.select_related("supplied_by"))
    kinds = dict(Item.objects.values_list("code", "kind"))
    return Known(
        locations={place.code: place.kind for place in places},
        hours={place.code: (place.opens, place.closes) for place in places},
        supplied_by={
            place.code: place.supplied_by.code if place.supplied_by else None for place in places
        },
        areas=set(StorageArea.objects.values_list("location__code", "code")),
        items={code: measures.of(code) for code in kinds},
        kinds=kinds,
        recipes=set(Recipe.objects.values_list("item__code", flat=True)),
        lines=lines,
    )


def _lay_over_places(known: Known, book: Book) -> None:
    for row in book["locations"]:
        place = row["code"]
        known.locations[place] = row["kind"]
        opens, closes = known.hours.get(place, (None, None))
        known.hours[place] = (
            row["opens"] if row.has("opens") else opens,
            row["closes"] if row.has("closes") else closes,
        )
        if row.has("supplied_by"):
            known.supplied_by[place] = row["supplied_by"]
    known.areas |= {(row["location"], row["code"]) for row in book["storage_areas"]}


def _lay_over_items(known: Known, book: Book, case_sizes: Mapping[str, CaseSize]) -> None:
    for row in book["items"]:
        item = row["code"]
        known.kinds[item] = row["kind"]
        base = known.items.get(item) or ItemMeasures(row["name"], row["unit"])
        known.items[item] = replace(
            base,
            name=row["name"],
            unit=row["unit"],
            grams_per_ml=_fraction(row, "grams_per_ml", base.grams_per_ml),
            grams_per_each=_fraction(row, "grams_per_each", base.grams_per_each),
        )
    for row in book["item_units"]:
        _lay_over_unit(known, row["item"], row["unit"], (row["qty"], row["of_unit"]))
    for item, size in case_sizes.items():
        _lay_over_unit(known, item, "case", size)


def _lay_over_unit(known: Known, item: str, word: str, size: CaseSize) -> None:
    measures = known.items.get(item)
    if measures is not None:
        own = {**measures.own, word: (Fraction(size[0]), size[1])}
        known.items[item] = replace(measures, own=own)


def _fraction(row: Row, column: str, stored: Fraction | None) -> Fraction | None:
    if not row.has(column):
        return stored
    return None if row[column] is None else Fraction(row[column])
