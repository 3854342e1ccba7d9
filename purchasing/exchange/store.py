"""Checked rows of purchasing's sheets into the database, in bulk, inside a transaction."""

from __future__ import annotations

from inventory.exchange.grammar import Book, Row
from inventory.exchange.store import facts, item_ids, location_ids
from inventory.exchange.upsert import Tally, Wanted, upsert
from purchasing.exchange.named_offers import NamedOffers
from purchasing.models import Offer, Par, Price, PriceBreak, Supplier, SupplierClosure


def store_purchasing(book: Book) -> dict[str, Tally]:
    """Everything but the open orders, sheet by sheet."""
    done: dict[str, Tally] = {}
    done["suppliers"] = upsert(
        Supplier,
        ("code",),
        (
            Wanted((row["code"],), {k: v for k, v in row.cells.items() if k != "code"})
            for row in book["suppliers"]
        ),
    )
    suppliers = dict(Supplier.objects.values_list("code", "pk"))
    done["supplier_closures"] = upsert(
        SupplierClosure,
        ("supplier_id", "date"),
        (
            Wanted((suppliers[row["supplier"]], row["date"]), {})
            for row in book["supplier_closures"]
        ),
    )
    done["supplier_items"] = _offers(book, suppliers)
    offers = NamedOffers()
    done["price_breaks"] = upsert(
        PriceBreak,
        ("offer_id", "from_cases"),
        (
            Wanted((offers.named(row), row["from_cases"]), facts(row, "price"))
            for row in book["price_breaks"]
        ),
    )
    done["pars"] = store_pars(book)
    return done


_OF_THE_PRICE = {"supplier", "item", "sku", "price", "valid_from"}


def _offers(book: Book, suppliers: dict[str, int]) -> Tally:
    items = item_ids()
    rows = book["supplier_items"]
    wanted = {
        (suppliers[row["supplier"]], items[row["item"]], row["sku"] or ""): {
            column: value for column, value in row.cells.items() if column not in _OF_THE_PRICE
        }
        for row in rows
    }
    tally = upsert(
        Offer,
        ("supplier_id", "item_id", "sku"),
        (Wanted(key, told) for key, told in wanted.items()),
    )
    offers = NamedOffers()
    prices = upsert(
        Price,
        ("offer_id", "starts_on"),
        (Wanted((offers.named(row), row["valid_from"]), facts(row, "price")) for row in rows),
    )
    return Tally(tally.added, tally.changed + prices.changed, tally.same)


def store_pars(book: Book) -> Tally:
    items, places = item_ids(), location_ids()

    def wanted(row: Row) -> Wanted:
        told = facts(row, "par", "unit", "basis", "service_level")
        if row.has("supplied_by"):
            told["supplied_by_id"] = places.get(row["supplied_by"])
        return Wanted((places[row["location"]], items[row["item"]], row["weekday"]), told)

    return upsert(Par, ("location_id", "item_id", "weekday"), map(wanted, book["pars"]))
