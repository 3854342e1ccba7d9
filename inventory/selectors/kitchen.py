"""The kitchen as the engine sees it: places, items and recipes in base units."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from decimal import Decimal

from inventory.engine import kitchen as engine
from inventory.engine.recipes import as_purchased
from inventory.models import ClosingDay, Item, Location, MenuEntry, Recipe, RecipeLine
from inventory.selectors.measures import Measures


def places() -> dict[str, engine.Place]:
    """Every location, by code, in two queries."""
    closed: dict[int, set[date]] = defaultdict(set)
    for location_id, day in ClosingDay.objects.values_list("location_id", "date"):
        closed[location_id].add(day)
    rows = Location.objects.select_related("supplied_by").order_by("code")
    return {row.code: _place(row, frozenset(closed[row.pk])) for row in rows}


def _place(row: Location, closed_on: frozenset[date]) -> engine.Place:
    return engine.Place(
        code=row.code,
        kind=row.kind,
        supplied_by=row.supplied_by.code if row.supplied_by else None,
        receives=frozenset(row.receives) or engine.EVERY_DAY,
        closed_on=closed_on,
        opens=row.opens,
        closes=row.closes,
        load_time=row.load_time,
    )


def commissary_of(known: dict[str, engine.Place]) -> str | None:
    """Where recipes without ``made_at`` are made: the first commissary by code."""
    return next((code for code, place in known.items() if place.kind == "commissary"), None)


def items(measures: Measures) -> dict[str, engine.Item]:
    """Every item, by code, in one query."""
    return {row.code: _item(row, measures) for row in Item.objects.order_by("code")}


def _item(row: Item, measures: Measures) -> engine.Item:
    return engine.Item(
        code=row.code,
        kind=row.kind,
        unit=measures.base_unit(row.code),
        shelf_life_days=row.shelf_life_days,
        on_return=row.on_return,
        tcs=row.tcs,
        ready_to_eat=row.ready_to_eat,
        stored_frozen=row.storage == Item.Storage.FROZEN,
        thaw_hours=None if row.thaw_hours is None else float(row.thaw_hours),
        use_per=row.use_per,
        can_be_left_off=row.can_be_left_off,
    )


def recipes(measures: Measures, commissary: str | None) -> dict[str, engine.Recipe]:
    """Every recipe, by the item it makes, in two queries."""
    lines: dict[int, list[engine.RecipeLine]] = defaultdict(list)
    for line in RecipeLine.objects.select_related("item").order_by("recipe_id", "position"):
        lines[line.recipe_id].append(_recipe_line(line, measures))
    rows = Recipe.objects.select_related("item", "made_at").order_by("item__code")
    return {row.item.code: _recipe(row, tuple(lines[row.pk]), measures, commissary) for row in rows}


def _recipe_line(line: RecipeLine, measures: Measures) -> engine.RecipeLine:
    usable = measures.base_quantity(line.item.code, line.qty, line.unit)
    return engine.RecipeLine(line.item.code, float(as_purchased(usable, line.yield_pct)))


def _recipe(
    row: Recipe,
    lines: tuple[engine.RecipeLine, ...],
    measures: Measures,
    commissary: str | None,
) -> engine.Recipe:
    made = row.item.code
    return engine.Recipe(
        makes=made,
        made_at=row.made_at.code if row.made_at else commissary or "",
        quantity=float(measures.base_quantity(made, row.makes_qty, row.makes_unit)),
        lines=lines,
        batch_min=_batch_limit(row, row.batch_min_qty, measures),
        batch_max=_batch_limit(row, row.batch_max_qty, measures),
        batch_minutes=row.batch_minutes or 0,
        lead_hours=float(row.lead_hours),
    )


def _batch_limit(row: Recipe, qty: Decimal | None, measures: Measures) -> float | None:
    if qty is None:
        return None
    unit = row.batch_unit or row.makes_unit
    return float(measures.base_quantity(row.item.code, qty, unit))


def menus() -> dict[str, tuple[engine.MenuSpan, ...]]:
    """What each location sells and when, in one query."""
    spans: dict[str, list[engine.MenuSpan]] = defaultdict(list)
    rows = MenuEntry.objects.select_related("location", "item").order_by(
        "location__code", "item__code", "site", "first"
    )
    for row in rows:
        price = None if row.price is None else float(row.price)
        spans[row.location.code].append(
            engine.MenuSpan(row.item.code, row.first, row.last, row.site, price)
        )
    return {code: tuple(entries) for code, entries in spans.items()}
