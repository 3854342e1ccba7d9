"""What a workbook may refer to: what is stored already, and what it brings itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import time
from fractions import Fraction

from inventory.engine.units import STANDARD_UNITS, ItemMeasures, as_decimal
from inventory.exchange.grammar import Book, Row, figure
from inventory.fields import LIMIT
from inventory.models import Item, Location, Lot, Recipe, RecipeLine, StorageArea
from inventory.problems import Problem, Refused
from inventory.selectors.measures import CaseSize, Measures, item_measures


@dataclass(slots=True)
class Known:
    """``codes``: what a row may name, by sheet; it takes in what stands in broken rows.
    ``hours``: working hours by location; ``lines``: what each recipe takes."""

    codes: dict[str, set[str]]
    locations: dict[str, str]  # code: kind
    hours: dict[str, tuple[time | None, time | None]]
    supplied_by: dict[str, str | None]
    areas: set[tuple[str, str]]
    items: dict[str, ItemMeasures]
    kinds: dict[str, str]
    lines: dict[str, set[str]]
    bases: dict[str, str]  # of items that there are lots of: it cannot change any more
    unclear: set[tuple[str, str]] = field(default_factory=set)  # item and word of broken rows
    words_missing: bool = False  # a sheet that could not be read may hold more words
    measures: Measures = field(default_factory=lambda: Measures({}))

    @property
    def commissary(self) -> str | None:
        return min((c for c, kind in self.locations.items() if kind == "commissary"), default=None)

    def factor(self, item: str, unit: str) -> Fraction | None:
        """Base units in one ``unit``; None where a problem says why there is none."""
        try:
            return self.measures.base_per(item, unit)
        except (Refused, KeyError):
            return None

    def unit_problem(self, row: Row, item: str, column: str, unit: str) -> Problem | None:
        """Why ``unit`` cannot be turned into the item's base unit, if it cannot."""
        if item not in self.items:
            return None  # said where the item stands
        try:
            self.measures.base_per(item, unit)
        except Refused as refused:
            if self._rests_on_unclear(item, unit):
                return None  # said where the word stands
            return row.problem(column, refused.problems[0].message, refused.problems[0].code)
        return None

    def _rests_on_unclear(self, item: str, unit: str) -> bool:
        own, seen = self.items[item].own, set[str]()
        while unit in own and unit not in seen:
            seen.add(unit)
            unit = own[unit][1]
        return self.is_unclear(item, unit)

    def is_unclear(self, item: str, word: str) -> bool:
        """Whether what could not be read may give the word a size."""
        missing = self.words_missing and word not in STANDARD_UNITS
        return missing or (item, word) in self.unclear

    def size_problem(self, row: Row, item: str, column: str, unit: str) -> Problem | None:
        """Why a quantity that can be converted does not fit the ledger, if it does not."""
        factor, qty = self.factor(item, unit), row[column]
        if factor is None or qty is None:
            return None
        base = self.items[item].base
        if Fraction(qty) * factor > Fraction(LIMIT):
            most = f"{int(LIMIT):,} {base}"
            return row.problem(column, f"{figure(qty)} {unit} is too large; at most {most} fit")
        if qty and not as_decimal(Fraction(qty) * factor):
            return row.problem(
                column, f"{figure(qty)} {unit} is less than a billionth of 1 {base}; type more"
            )
        return None


def known_kitchen(book: Book, case_sizes: Mapping[str, CaseSize]) -> Known:
    """Stored facts with the workbook's laid over them, in a fixed number of queries."""
    known = _stored(case_sizes)
    _lay_over_places(known, book)
    _lay_over_items(known, book, case_sizes)
    for row in book["recipe_lines"]:
        known.lines.setdefault(row["recipe"], set()).add(row["item"])
    for sheet, column in (("locations", "code"), ("items", "code"), ("recipes", "item")):
        known.codes[sheet] |= book.named(sheet, column)
    known.measures = Measures(known.items)
    return known


def _stored(case_sizes: Mapping[str, CaseSize]) -> Known:
    measures = item_measures(case_sizes)
    lines: dict[str, set[str]] = defaultdict(set)
    for made, item in RecipeLine.objects.values_list("recipe__item__code", "item__code"):
        lines[made].add(item)
    places = list(Location.objects.select_related("supplied_by"))
    kinds = dict(Item.objects.values_list("code", "kind"))
    return Known(
        codes={
            "locations": {place.code for place in places},
            "items": set(kinds),
            "recipes": set(Recipe.objects.values_list("item__code", flat=True)),
        },
        locations={place.code: place.kind for place in places},
        hours={place.code: (place.opens, place.closes) for place in places},
        supplied_by={
            place.code: place.supplied_by.code if place.supplied_by else None for place in places
        },
        areas=set(StorageArea.objects.values_list("location__code", "code")),
        items={code: measures.of(code) for code in kinds},
        bases={
            code: measures.base_unit(code)
            for code in Lot.objects.order_by().values_list("item__code", flat=True).distinct()
        },
        kinds=kinds,
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
    for row in book.broken.get("locations", ()):
        if row["code"] and row["kind"]:
            known.locations[row["code"]] = row["kind"]
    areas = (*book["storage_areas"], *book.broken.get("storage_areas", ()))
    known.areas |= {(row["location"], row["code"]) for row in areas}


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
    _leave_unclear(known, book)


def _leave_unclear(known: Known, book: Book) -> None:
    """What a broken row would have said of units is not known."""
    for row in book.broken.get("items", ()):
        known.items.pop(row["code"], None)
    for row in book.broken.get("item_units", ()):
        known.unclear.add((row["item"], row["unit"]))
    for row in book.broken.get("supplier_items", ()):
        known.unclear.add((row["item"], "case"))
    if "item_units" in book.unread or "supplier_items" in book.unread:
        known.words_missing = True
    for item, measures in list(known.items.items()):
        if not is_kept_in(measures):
            del known.items[item]


def is_kept_in(measures: ItemMeasures) -> bool:
    """Whether the unit people read an item in is one: a standard unit, or a word of its own."""
    if measures.unit in STANDARD_UNITS:
        return True
    return measures.unit != "case" and measures.unit in measures.own and _has_base(measures)


def _has_base(measures: ItemMeasures) -> bool:
    try:
        return bool(measures.base)
    except Refused:
        return False


def _lay_over_unit(known: Known, item: str, word: str, size: CaseSize) -> None:
    measures = known.items.get(item)
    if measures is not None:
        own = {**measures.own, word: (Fraction(size[0]), size[1])}
        known.items[item] = replace(measures, own=own)


def _fraction(row: Row, column: str, stored: Fraction | None) -> Fraction | None:
    if not row.has(column):
        return stored
    return None if row[column] is None else Fraction(row[column])
