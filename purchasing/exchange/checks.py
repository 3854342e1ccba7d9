"""Checks between the rows of purchasing's sheets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal

from inventory.engine.units import MASS
from inventory.exchange.checks import unknown
from inventory.exchange.grammar import Book, Row, shown
from inventory.exchange.known import Known
from inventory.problems import Problem
from inventory.selectors.measures import CaseSize
from purchasing.models import Offer, Par, Supplier
from purchasing.selectors import supply

OfferKey = tuple[str, str, str]
# A cost so many times off the offer's price is doubtful.
DOUBTFUL_RATIO = 10


def case_sizes_with(book: Book) -> dict[str, CaseSize]:
    """What a case of each item holds, stored offers and the workbook's: the first choice's."""
    sizes = supply.case_sizes()
    ranked = sorted(
        book["supplier_items"],
        key=lambda row: (row["rank"] or 1, row["supplier"], row["sku"] or ""),
        reverse=True,
    )
    for row in ranked:
        nominal = row["nominal_qty"] if row["catch_weight"] else None
        sizes[row["item"]] = (nominal or row["pack_qty"], row["pack_unit"])
    return sizes


def check_purchasing(book: Book, known: Known) -> None:
    """Adds to the book's problems and warnings."""
    suppliers = set(Supplier.objects.values_list("code", flat=True))
    suppliers |= {row["code"] for row in book["suppliers"]}
    offers = _known_offers(book)
    book.problems.extend(_suppliers(book, suppliers))
    book.problems.extend(_offers(book, known))
    book.problems.extend(_which_offer(book, offers))
    book.problems.extend(_pars(book))
    book.warnings.extend(_doubtful_costs(book, known))


def _suppliers(book: Book, suppliers: set[str]) -> Iterator[Problem]:
    for sheet in ("supplier_closures", "supplier_items", "price_breaks", "open_orders"):
        for row in book[sheet]:
            if row["supplier"] not in suppliers:
                yield unknown(row, "supplier", "supplier", "suppliers")
    for row in book["suppliers"]:
        for column in ("order_days", "delivery_days"):
            if not row[column]:
                yield row.problem(column, "names no weekday; type days such as mon;thu")


def _offers(book: Book, known: Known) -> Iterator[Problem]:
    first: dict[OfferKey, Row] = {}
    for row in book["supplier_items"]:
        yield from _priced_per(row, known)
        if row["pack_unit"] == "case":
            yield row.problem("pack_unit", "a case cannot hold cases; say what is in it")
        if row["nominal_qty"] is not None and not row["catch_weight"]:
            yield row.problem("nominal_qty", "only a catch_weight offer has one; say yes there")
        earlier = first.setdefault(_offer_key(row), row)
        if earlier is not row and not _same_pack(earlier, row):
            yield _two_offers(earlier, row)


def _priced_per(row: Row, known: Known) -> Iterator[Problem]:
    priced_per = row["priced_per"] or "case"
    if priced_per == "case":
        return
    if priced_per not in MASS:
        yield row.problem(
            "priced_per", f"{shown(priced_per)} is not case or a unit of weight such as lb or kg"
        )
    elif problem := known.unit_problem(row, row["item"], "priced_per", priced_per):
        yield problem


def _same_pack(one: Row, other: Row) -> bool:
    """Rows that differ in price and valid_from only are the price history of one offer."""
    moving = {"price", "valid_from"}
    return {k: v for k, v in one.cells.items() if k not in moving} == {
        k: v for k, v in other.cells.items() if k not in moving
    }


def _two_offers(earlier: Row, row: Row) -> Problem:
    return row.problem(
        "sku",
        f"rows {earlier.number} and {row.number} are two offers of {row['item']} from "
        f"{row['supplier']}; give each its own sku",
        "two_offers",
    )


def _offer_key(row: Row) -> OfferKey:
    return row["supplier"], row["item"], row["sku"] or ""


def _known_offers(book: Book) -> dict[tuple[str, str], set[str]]:
    """SKUs by supplier and item."""
    skus: dict[tuple[str, str], set[str]] = defaultdict(set)
    for supplier, item, sku in Offer.objects.values_list("supplier__code", "item__code", "sku"):
        skus[supplier, item].add(sku)
    for row in book["supplier_items"]:
        skus[row["supplier"], row["item"]].add(row["sku"] or "")
    return skus


def _which_offer(book: Book, offers: dict[tuple[str, str], set[str]]) -> Iterator[Problem]:
    """Price breaks and open orders name one offer."""
    for sheet in ("price_breaks", "open_orders"):
        for row in book[sheet]:
            skus = offers.get((row["supplier"], row["item"]), set())
            if not skus:
                yield row.problem(
                    "item",
                    f"{row['supplier']} does not sell {row['item']}; add it to supplier_items",
                    "unknown_offer",
                )
            elif row["sku"] and row["sku"] not in skus:
                yield unknown(row, "sku", "offer with sku", "supplier_items")
            elif not row["sku"] and "" not in skus and len(skus) > 1:
                yield row.problem(
                    "sku", f"which of {' '.join(sorted(skus))}? Fill in the sku", "which_offer"
                )


def _pars(book: Book) -> Iterator[Problem]:
    for row in book["pars"]:
        basis, level = row["basis"], row["service_level"]
        if basis in (Par.Basis.FIXED, Par.Basis.GREATER) and row["par"] is None:
            yield row.problem("par", f"is empty, but basis {basis} needs a par", "par_missing")
        if level is not None and not 0 < level < 1:
            yield row.problem("service_level", f"{level:f} must lie between 0 and 1, such as 0.95")
        if row["supplied_by"] is not None and row["supplied_by"] == row["location"]:
            yield row.problem("supplied_by", "a location cannot be supplied by itself")


def _doubtful_costs(book: Book, known: Known) -> Iterator[Problem]:
    prices: dict[str, Decimal] = {}
    for row in book["supplier_items"]:
        if (cost := _cost_per_base(row, known)) is not None:
            prices.setdefault(row["item"], cost)
    for row in book["stock"]:
        cost, price = row["unit_cost"], prices.get(row["item"])
        if cost and price and not 1 / DOUBTFUL_RATIO <= cost / price <= DOUBTFUL_RATIO:
            yield row.problem(
                "unit_cost",
                f"{cost:f} is more than ten times off the offer's {price:.6f} per "
                f"{known.items[row['item']].base}; unit_cost is per g, ml or each",
                "doubtful_cost",
            )


def _cost_per_base(row: Row, known: Known) -> Decimal | None:
    if (row["priced_per"] or "case") == "case":
        held = known.base_quantity(row["item"], row["pack_qty"], row["pack_unit"])
    else:
        held = known.base_quantity(row["item"], Decimal(1), row["priced_per"])
    return row["price"] / (Decimal(held.numerator) / held.denominator) if held else None
