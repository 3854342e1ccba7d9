"""Checked rows of the kitchen's sheets into the database, in bulk, inside a transaction."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from inventory.exchange.grammar import Book, Row
from inventory.exchange.upsert import Tally, Wanted, upsert
from inventory.models import (
    AllergenWord,
    Booking,
    ClosingDay,
    Item,
    ItemUnit,
    Location,
    MenuEntry,
    Recipe,
    RecipeLine,
    Sale,
    Setting,
    Stop,
    StorageArea,
    Usage,
)

Ids = Mapping[str, int]


def facts(row: Row, *columns: str, **renamed: str) -> dict[str, Any]:
    """The given columns of a row, by field name; ``field=column`` where the names differ."""
    pairs = [*((column, column) for column in columns), *renamed.items()]
    return {field: row[column] for field, column in pairs if row.has(column)}


def _whole_row(row: Row, *names: str) -> dict[str, Any]:
    """Every column but those of the key."""
    return {column: value for column, value in row.cells.items() if column not in names}


def location_ids() -> dict[str, int]:
    return dict(Location.objects.values_list("code", "pk"))


def item_ids() -> dict[str, int]:
    return dict(Item.objects.values_list("code", "pk"))


def store_kitchen(book: Book) -> dict[str, Tally]:
    """Everything but the stock, sheet by sheet; parents before what refers to them."""
    done: dict[str, Tally] = {}
    done["settings"] = upsert(Setting, ("key",), _settings(book))
    done["locations"] = _locations(book)
    places = location_ids()
    done["location_closures"] = upsert(
        ClosingDay,
        ("location_id", "date"),
        (
            Wanted((places[row["location"]], row["date"]), facts(row, "reason"))
            for row in book["location_closures"]
        ),
    )
    done["storage_areas"] = upsert(
        StorageArea,
        ("location_id", "code"),
        (
            Wanted((places[row["location"]], row["code"]), _whole_row(row, "location", "code"))
            for row in book["storage_areas"]
        ),
    )
    done["items"] = store_items(book)
    items = item_ids()
    done["item_units"] = store_item_units(book, items)
    done["menu"] = _menu(book, places, items)
    done["recipes"] = _recipes(book, places, items)
    done["recipe_lines"] = _recipe_lines(book, items)
    done["stops"] = _stops(book, places)
    done["sales"] = _sales(book, places, items)
    done["bookings"] = _bookings(book, places, items)
    done["usage"] = _usage(book, places, items)
    return done


def _settings(book: Book) -> Iterator[Wanted]:
    for row in book["settings"]:
        yield Wanted((row["key"],), {"value": row["value"]})


def _locations(book: Book) -> Tally:
    """Twice: a location may be supplied by one that the same sheet brings."""
    plain = upsert(
        Location,
        ("code",),
        (
            Wanted((row["code"],), _whole_row(row, "code", "supplied_by"))
            for row in book["locations"]
        ),
    )
    places = location_ids()
    upsert(
        Location,
        ("code",),
        (
            Wanted((row["code"],), {"supplied_by_id": places.get(row["supplied_by"])})
            for row in book["locations"]
            if row.has("supplied_by")
        ),
    )
    return plain


_ALLERGENS = {
    "allergens": AllergenWord.Says.CONTAINS,
    "allergens_may": AllergenWord.Says.MAY_CONTAIN,
    "allergens_free": AllergenWord.Says.FREE,
}


def store_items(book: Book) -> Tally:
    """With their allergen words."""
    tally = upsert(
        Item,
        ("code",),
        (Wanted((row["code"],), _whole_row(row, "code", *_ALLERGENS)) for row in book["items"]),
    )
    _allergens(book["items"], item_ids())
    return tally


def store_item_units(book: Book, items: Ids) -> Tally:
    return upsert(
        ItemUnit,
        ("item_id", "word"),
        (
            Wanted((items[row["item"]], row["unit"]), facts(row, "qty", "of_unit"))
            for row in book["item_units"]
        ),
    )


def _allergens(rows: Iterable[Row], items: Ids) -> None:
    """What an item row says of a kind of statement replaces what was said before."""
    stored: dict[int, list[AllergenWord]] = defaultdict(list)
    for word in AllergenWord.objects.order_by("pk"):
        stored[word.item_id].append(word)
    gone: list[int] = []
    wanted: list[Wanted] = []
    for row in rows:
        item = items[row["code"]]
        said = {
            allergen: says for column, says in _ALLERGENS.items() for allergen in row[column] or ()
        }
        replaced = {says for column, says in _ALLERGENS.items() if row.has(column)}
        old = [word for word in stored[item] if word.says in replaced]
        gone += [word.pk for word in old if word.allergen not in said]
        wanted += [Wanted((item, allergen), {"says": says}) for allergen, says in said.items()]
    if gone:
        AllergenWord.objects.filter(pk__in=gone).delete()
    upsert(AllergenWord, ("item_id", "allergen"), wanted)


def _menu(book: Book, places: Ids, items: Ids) -> Tally:
    return upsert(
        MenuEntry,
        ("location_id", "item_id", "site", "first"),
        (
            Wanted(
                (places[row["location"]], items[row["item"]], row["site"] or "", row["from"]),
                facts(row, "price", last="to"),
            )
            for row in book["menu"]
        ),
    )


def _recipes(book: Book, places: Ids, items: Ids) -> Tally:
    def wanted(row: Row) -> Wanted:
        told = _whole_row(row, "item", "made_at")
        if row.has("made_at"):
            told["made_at_id"] = places.get(row["made_at"])
        return Wanted((items[row["item"]],), told)

    return upsert(Recipe, ("item_id",), map(wanted, book["recipes"]))


def _recipe_lines(book: Book, items: Ids) -> Tally:
    recipes = dict(Recipe.objects.values_list("item__code", "pk"))
    position: Counter[str] = Counter()

    def wanted(row: Row) -> Wanted:
        position[row["recipe"]] += 1
        told = facts(row, "qty", "unit", "yield_pct") | {"position": position[row["recipe"]]}
        return Wanted((recipes[row["recipe"]], items[row["item"]]), told)

    return upsert(RecipeLine, ("recipe_id", "item_id"), map(wanted, book["recipe_lines"]))


def _between_dates(rows: list[Row]) -> dict[str, Any]:
    """Only stored rows of the workbook's own dates can be the same rows."""
    dates = [row["date"] for row in rows]
    return {"date__gte": min(dates), "date__lte": max(dates)} if dates else {"pk__in": []}


def _stops(book: Book, places: Ids) -> Tally:
    rows = book["stops"]
    return upsert(
        Stop,
        ("location_id", "date", "opens", "site"),
        (
            Wanted(
                (places[row["location"]], row["date"], row["opens"], row["site"]),
                _whole_row(row, "location", "date", "opens", "site"),
            )
            for row in rows
        ),
        Stop.objects.filter(**_between_dates(rows)),
    )


def _sales(book: Book, places: Ids, items: Ids) -> Tally:
    rows = book["sales"]
    return upsert(
        Sale,
        ("location_id", "date", "opens", "site", "item_id"),
        (
            Wanted(
                (
                    places[row["location"]],
                    row["date"],
                    row["opens"],
                    row["site"] or "",
                    items[row["item"]],
                ),
                facts(row, "qty", "net_amount", "sold_out_at"),
            )
            for row in rows
        ),
        Sale.objects.filter(**_between_dates(rows)),
    )


def _bookings(book: Book, places: Ids, items: Ids) -> Tally:
    """Equal bookings of one sheet are told apart by their order among equals."""
    rows = book["bookings"]
    seen: Counter[tuple[Any, ...]] = Counter()

    def wanted(row: Row) -> Wanted:
        same = (
            places[row["location"]],
            row["date"],
            items[row["item"]],
            row["customer"] or "",
        )
        seen[same] += 1
        return Wanted(
            (*same, seen[same]),
            facts(row, "qty", "unit", "status", "final_by", "price", "deposit"),
        )

    return upsert(
        Booking,
        ("location_id", "date", "item_id", "customer", "ordinal"),
        map(wanted, rows),
        Booking.objects.filter(**_between_dates(rows)),
    )


def _usage(book: Book, places: Ids, items: Ids) -> Tally:
    rows = book["usage"]
    return upsert(
        Usage,
        ("location_id", "date", "item_id"),
        (
            Wanted(
                (places[row["location"]], row["date"], items[row["item"]]),
                facts(row, "qty", "unit"),
            )
            for row in rows
        ),
        Usage.objects.filter(**_between_dates(rows)),
    )
