"""The stock sheet: opening balances, once per location, item and lot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from inventory.engine.dates import use_by_received
from inventory.exchange.grammar import Book, Row
from inventory.exchange.upsert import Tally
from inventory.models import Hold, Item, Location, StorageArea
from inventory.problems import Problem
from inventory.selectors.measures import Measures
from inventory.services.openings import Opening, opening_problems, post_openings

if TYPE_CHECKING:
    from django.contrib.auth.models import User

# Digits of a date in a key, where there is none.
NO_DATE = "-"


def store_stock(book: Book, measures: Measures, *, by: User | None, at: datetime) -> Tally:
    """Post what is not there yet; inside the transaction of the load."""
    openings = [opening for _, opening in _openings(book, measures)]
    made = post_openings(openings, by=by, at=at)
    return Tally(added=made, same=len(openings) - made)


def stock_problems(book: Book, measures: Measures) -> Iterator[Problem]:
    """Rows that differ from what was opened before: count it instead. Rows of items or
    places that are not stored yet cannot differ."""
    rows = {opening.key: row for row, opening in _openings(book, measures)}
    openings = [opening for _, opening in _openings(book, measures)]
    for opening, problem in opening_problems(openings):
        yield rows[opening.key].problem("qty", problem.message, problem.code)


def double_lots(book: Book) -> Iterator[Problem]:
    """The same lot code twice at one location is an error that names both rows."""
    first: dict[tuple[str, str, str], int] = {}
    for row in book["stock"]:
        if not row["lot"]:
            continue
        key = row["location"], row["item"], row["lot"]
        if key in first:
            yield row.problem(
                "lot",
                f"rows {first[key]} and {row.number} are the same lot at the same location; "
                "add them up in one row",
                "double_key",
            )
        first.setdefault(key, row.number)


def _openings(book: Book, measures: Measures) -> Iterator[tuple[Row, Opening]]:
    items = {item.code: item for item in Item.objects.all()}
    places = {place.code: place for place in Location.objects.all()}
    areas = {
        (area.location.code, area.code): area
        for area in StorageArea.objects.select_related("location")
    }
    equals: Counter[tuple[Any, ...]] = Counter()
    for row in book["stock"]:
        item, place = items.get(row["item"]), places.get(row["location"])
        if item is not None and place is not None:
            area = areas.get((row["location"], row["area"]))
            yield row, _opening(row, item, place, area, measures, equals)


def _opening(
    row: Row,
    item: Item,
    place: Location,
    area: StorageArea | None,
    measures: Measures,
    equals: Counter[tuple[Any, ...]],
) -> Opening:
    use_by = row["use_by"]
    if use_by is None and row["received"] is not None:
        use_by = use_by_received(row["received"], item.shelf_life_days)
    return Opening(
        key=_key(row, use_by, equals),
        item=item,
        location=place,
        qty=measures.in_base(item.code, row["qty"], row["unit"]),
        supplier_lot=row["lot"] or "",
        received_on=row["received"],
        use_by=use_by,
        unit_cost=row["unit_cost"],
        area=area,
        state=row["state"] or "",
        hold=Hold.Reason.OTHER if row["hold"] else None,
        typed_qty=row["qty"],
        typed_unit=row["unit"],
    )


def _key(row: Row, use_by: date | None, equals: Counter[tuple[Any, ...]]) -> str:
    """A lot with a code is known by it; one without by its dates and its order among equals,
    so that a second load finds it."""
    place = f"{row['location']}|{row['item']}|"
    if row["lot"]:
        return f"{place}lot:{row['lot']}"
    dates = f"{row['received'] or NO_DATE}|{use_by or NO_DATE}"
    equals[place, dates] += 1
    return f"{place}{dates}|{equals[place, dates]}"
