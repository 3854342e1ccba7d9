"""The stock sheet: opening balances, once per location, item and lot."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db.models import Q

from inventory.engine.dates import use_by_received
from inventory.exchange.grammar import Book, Row
from inventory.exchange.upsert import Tally
from inventory.models import Hold, Item, Location, Lot, OnHand, StorageArea
from inventory.problems import Problem, Refused
from inventory.selectors.measures import Measures
from inventory.services.openings import (
    ROWS_AT_ONCE,
    Opening,
    count_instead,
    opening_problems,
    post_openings,
)

if TYPE_CHECKING:
    from django.contrib.auth.models import User

# Digits of a date in a key, where there is none.
NO_DATE = "-"
# Ends the key of a lot whose use-by was worked out from the item's shelf life.
BY_LIFE = "~"


def store_stock(book: Book, measures: Measures, *, by: User | None, at: datetime) -> Tally:
    """Post what is not there yet; inside the transaction of the load."""
    openings = [opening for _, opening in _openings(book, measures)]
    here = _here_already(openings)
    if problems := [count_instead(*found) for found in here.values() if found[0].qty != found[1]]:
        raise Refused(problems)
    made = post_openings([one for one in openings if one.key not in here], by=by, at=at)
    return Tally(added=made, same=len(openings) - made)


def stock_problems(book: Book, measures: Measures) -> Iterator[Problem]:
    """Rows that differ from what was opened before: count it instead. Rows of items or
    places that are not stored yet cannot differ."""
    rows = {opening.key: (row, opening) for row, opening in _openings(book, measures)}
    openings = [opening for _, opening in rows.values()]
    here = _here_already(openings)
    for key, (opening, before) in here.items():
        if opening.qty != before:
            problem = count_instead(opening, before)
            yield rows[key][0].problem("qty", problem.message, problem.code)
    for opening, problem in opening_problems([one for one in openings if one.key not in here]):
        yield rows[opening.key][0].problem("qty", problem.message, problem.code)


def _here_already(openings: Sequence[Opening]) -> dict[str, tuple[Opening, Decimal]]:
    """Rows whose lot, by the supplier's code or our strip number, came to the location in
    another way than by an opening balance there, with what is on hand of it."""
    opened = set(Lot.objects.exclude(opening_key=None).values_list("opening_key", flat=True))
    coded = [one for one in openings if one.supplier_lot and one.key not in opened]
    found: dict[str, tuple[Opening, Decimal]] = {}
    for start in range(0, len(coded), ROWS_AT_ONCE):
        some = coded[start : start + ROWS_AT_ONCE]
        there = _on_hand_by_code([one.supplier_lot for one in some])
        for one in some:
            key = one.location.pk, one.item.pk, one.supplier_lot
            if key in there:
                found[one.key] = one, there[key]
    return found


def _on_hand_by_code(codes: Sequence[str]) -> dict[tuple[int, int, str], Decimal]:
    """On hand by location, item and code; a code that several lots bear stands for all."""
    rows = OnHand.objects.filter(Q(lot__supplier_lot__in=codes) | Q(lot__strip__in=codes))
    found: dict[tuple[int, int, str], Decimal] = defaultdict(Decimal)
    for place, item, code, strip, qty in rows.values_list(
        "location_id", "item_id", "lot__supplier_lot", "lot__strip", "qty"
    ):
        for name in {code, strip}:
            found[place, item, name] += qty
    return dict(found)


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
    rows = [row for row in book["stock"] if row["item"] in items and row["location"] in places]
    use_bys = [_use_by(row, items[row["item"]]) for row in rows]
    keys = _keys(list(zip(rows, use_bys, strict=True)))
    for row, use_by, key in zip(rows, use_bys, keys, strict=True):
        area = areas.get((row["location"], row["area"]))
        item, place = items[row["item"]], places[row["location"]]
        yield row, _opening(row, key, item, place, use_by, area, measures)


def _use_by(row: Row, item: Item) -> date | None:
    if row["use_by"] is not None or row["received"] is None:
        typed: date | None = row["use_by"]
        return typed
    return use_by_received(row["received"], item.shelf_life_days)


def _opening(
    row: Row,
    key: str,
    item: Item,
    place: Location,
    use_by: date | None,
    area: StorageArea | None,
    measures: Measures,
) -> Opening:
    return Opening(
        key=key,
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


def _keys(dated: Sequence[tuple[Row, date | None]]) -> list[str]:
    """What each row's lot is known by.

    Where a row leaves the use-by to the item's shelf life, the key says so: when that life has
    changed since, the row still finds the lot of its day, which keeps its use-by.
    """
    equals: Counter[tuple[Any, ...]] = Counter()
    keys = [_key(row, use_by, equals) for row, use_by in dated]
    stored = {key for (key,) in Lot.objects.values_list("opening_key") if key is not None}
    keys = [
        key + BY_LIFE if key + BY_LIFE in stored and not row["lot"] else key
        for key, (row, _) in zip(keys, dated, strict=True)
    ]
    others: dict[str, list[str]] = defaultdict(list)
    for other in sorted(stored - set(keys), reverse=True):
        if other.endswith(BY_LIFE):
            others[_of_its_day(other)].append(other)
    return [
        key if key in stored or not _goes_by_life(row) else _moved(key, others[_of_its_day(key)])
        for key, (row, _) in zip(keys, dated, strict=True)
    ]


def _goes_by_life(row: Row) -> bool:
    return row["received"] is not None and row["use_by"] is None and not row["lot"]


def _moved(key: str, same_day: list[str]) -> str:
    return same_day.pop() if same_day else key + BY_LIFE


def _key(row: Row, use_by: date | None, equals: Counter[tuple[Any, ...]]) -> str:
    """A lot with a code is known by it; one without by its dates and its order among equals,
    so that a second load finds it."""
    place = f"{row['location']}|{row['item']}|"
    if row["lot"]:
        return f"{place}lot:{row['lot']}"
    dates = f"{row['received'] or NO_DATE}|{use_by or NO_DATE}"
    equals[place, dates] += 1
    return f"{place}{dates}|{equals[place, dates]}"


def _of_its_day(key: str) -> str:
    """Location, item and day of receipt of a key; a lot's code begins otherwise."""
    return "|".join(key.split("|", 3)[:3])
