"""Checks between the rows of purchasing's sheets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from inventory.engine.units import MASS, as_decimal
from inventory.exchange.checks import unknown
from inventory.exchange.grammar import Book, Row, figure, shown
from inventory.exchange.known import Known
from inventory.fields import LIMIT
from inventory.problems import Problem
from inventory.selectors.measures import CaseSize
from purchasing.models import Offer, Par, Price, Supplier
from purchasing.selectors import supply

Pair = tuple[str, str]  # supplier and item
# A cost so many times off the offer's price is doubtful.
DOUBTFUL_RATIO = 10


@dataclass(slots=True)
class KnownOffers:
    """``cases``: base units of a case by SKU, None where they are not known; ``costs``: what
    a base unit costs, by item, from every offer of it."""

    cases: dict[Pair, dict[str, Fraction | None]] = field(default_factory=dict)
    costs: dict[str, list[Fraction]] = field(default_factory=lambda: defaultdict(list))


def case_sizes_with(book: Book) -> dict[str, CaseSize]:
    """What a case of each item holds, stored offers and the workbook's: the first choice's."""
    sizes = supply.case_sizes()
    ranked = sorted(
        book["supplier_items"],
        key=lambda row: (row["rank"] or 1, row["supplier"], row["sku"] or ""),
        reverse=True,
    )
    for row in ranked:
        sizes[row["item"]] = (_held(row), row["pack_unit"])
    return sizes


def check_purchasing(book: Book, known: Known) -> None:
    """Adds to the book's problems and warnings."""
    offers = _known_offers(book, known)
    book.complain(_suppliers(book))
    book.complain(_offers(book, known))
    book.complain(_two_offers(book))
    book.complain(_which_offer(book, offers))
    book.complain(_pars(book))
    book.complain(_supply_circles(book, known))
    book.warn(_nominal_without_catch(book))
    book.warn(_doubtful_costs(book, known, offers))


def _suppliers(book: Book) -> Iterator[Problem]:
    suppliers = set(Supplier.objects.values_list("code", flat=True))
    suppliers |= book.named("suppliers", "code")
    for sheet in ("supplier_closures", "supplier_items", "price_breaks", "open_orders"):
        for row in book[sheet] if "suppliers" not in book.unread else ():
            if row["supplier"] not in suppliers:
                yield unknown(row, "supplier", "supplier", "suppliers")
    for row in book["suppliers"]:
        for column in ("order_days", "delivery_days"):
            if not row[column]:
                yield row.problem(column, "names no weekday; type days such as mon;thu")


def _offers(book: Book, known: Known) -> Iterator[Problem]:
    for row in book["supplier_items"]:
        if row["pack_unit"] == "case":
            yield row.problem("pack_unit", "a case cannot hold cases; say what is in it")
        priced_per = row["priced_per"] or "case"
        if priced_per == "case":
            continue
        if priced_per not in MASS:
            message = f"{shown(priced_per)} is not case or a unit of weight such as lb or kg"
            yield row.problem("priced_per", message)
        elif problem := known.unit_problem(row, row["item"], "priced_per", priced_per):
            yield problem
        elif (units := _priced_units(row, known)) and not _fits(units):
            message = f"a case is {float(units):g} {priced_per}; price it per another unit"
            yield row.problem("priced_per", message)


def _priced_units(row: Row, known: Known) -> Fraction | None:
    """How many priced units a case holds."""
    case = known.factor(row["item"], row["pack_unit"])
    unit = known.factor(row["item"], row["priced_per"])
    return Fraction(_held(row)) * case / unit if case and unit else None


def _fits(value: Fraction) -> bool:
    return value <= Fraction(LIMIT) and as_decimal(value) > 0


def _two_offers(book: Book) -> Iterator[Problem]:
    """Rows of one SKU that differ in price and valid_from only are the prices of one offer.
    Where a supplier has two offers of an item, each needs its own SKU."""
    first: dict[tuple[str, str, str], Row] = {}
    same: dict[tuple[object, ...], Row] = {}
    others: dict[Pair, Row] = {}
    for row in book["supplier_items"]:
        pair, sku = _pair(row), row["sku"] or ""
        other = others.setdefault(pair, row)
        earlier = first.setdefault((*pair, sku), row)
        twin = same.setdefault((*pair, sku, row["valid_from"]), row)
        if earlier is not row and not _same_pack(earlier, row):
            yield _give_each_its_sku(earlier, row)
        elif twin is not row:
            yield row.problem(
                "valid_from",
                f"rows {twin.number} and {row.number} have the same supplier, item, sku, "
                "valid_from; keep one of them",
                "double_key",
            )
        elif earlier is row and other is not row and "" in (sku, other["sku"] or ""):
            yield _give_each_its_sku(other, row)


def _same_pack(one: Row, other: Row) -> bool:
    moving = {"price", "valid_from"}
    return {k: v for k, v in one.cells.items() if k not in moving} == {
        k: v for k, v in other.cells.items() if k not in moving
    }


def _give_each_its_sku(earlier: Row, row: Row) -> Problem:
    return row.problem(
        "sku",
        f"rows {earlier.number} and {row.number} are two offers of {row['item']} from "
        f"{row['supplier']}; give each its own sku",
        "two_offers",
    )


def _pair(row: Row) -> Pair:
    return row["supplier"], row["item"]


def _held(row: Row) -> Decimal:
    """Pack units in a case: the nominal weight where cases vary."""
    nominal: Decimal | None = row["nominal_qty"] if row["catch_weight"] else None
    return nominal or row["pack_qty"]


def _known_offers(book: Book, known: Known) -> KnownOffers:
    offers = KnownOffers()
    for supplier, item, sku, held, unit in _stored_packs():
        offers.cases.setdefault((supplier, item), {})[sku] = _in_base(item, held, unit, known)
    for row in book.broken.get("supplier_items", ()):
        offers.cases.setdefault(_pair(row), {})[row["sku"] or ""] = None
    for row in book["supplier_items"]:
        case = _in_base(row["item"], _held(row), row["pack_unit"], known)
        offers.cases.setdefault(_pair(row), {})[row["sku"] or ""] = case
        _note_cost(offers, row["item"], row["price"], row["priced_per"] or "case", case, known)
    for item, price, per, case in _stored_prices(offers):
        _note_cost(offers, item, price, per, case, known)
    return offers


def _in_base(item: str, qty: Decimal, unit: str, known: Known) -> Fraction | None:
    factor = known.factor(item, unit)
    return Fraction(qty) * factor if factor else None


def _stored_packs() -> Iterator[tuple[str, str, str, Decimal, str]]:
    rows = Offer.objects.order_by("pk").values_list(
        "supplier__code",
        "item__code",
        "sku",
        "pack_qty",
        "pack_unit",
        "catch_weight",
        "nominal_qty",
    )
    for supplier, item, sku, pack, unit, catch, nominal in rows.iterator():
        yield supplier, item, sku, (nominal if catch else None) or pack, unit


def _stored_prices(offers: KnownOffers) -> Iterator[tuple[str, Decimal, str, Fraction | None]]:
    rows = Price.objects.order_by("pk").values_list(
        "offer__supplier__code", "offer__item__code", "offer__sku", "offer__priced_per", "price"
    )
    for supplier, item, sku, per, price in rows.iterator():
        yield item, price, per, offers.cases[supplier, item][sku]


def _note_cost(
    offers: KnownOffers, item: str, price: Decimal, per: str, case: Fraction | None, known: Known
) -> None:
    units = case if per == "case" else known.factor(item, per)
    if units and price:
        offers.costs[item].append(Fraction(price) / units)


def _which_offer(book: Book, offers: KnownOffers) -> Iterator[Problem]:
    """Price breaks and open orders name one offer."""
    for sheet, others in (
        ("price_breaks", ("from_cases",)),
        ("open_orders", ("po", "location", "due")),
    ):
        first: dict[tuple[object, ...], Row] = {}
        for row in book[sheet] if "supplier_items" not in book.unread else ():
            cases = offers.cases.get(_pair(row), {})
            if problem := _no_one_offer(row, cases):
                yield problem
                continue
            written = row["sku"] or ""
            sku = written if written in cases else next(iter(cases))
            earlier = first.setdefault((*_pair(row), sku, *(row[one] for one in others)), row)
            if earlier["sku"] != row["sku"]:
                message = f"rows {earlier.number} and {row.number} name the same offer; keep one"
                yield row.problem("sku", message, "double_key")
            if sheet == "open_orders":
                yield from _too_many_cases(row, cases[sku])


def _no_one_offer(row: Row, cases: dict[str, Fraction | None]) -> Problem | None:
    if not cases:
        return row.problem(
            "item",
            f"{row['supplier']} does not sell {row['item']}; add it to supplier_items",
            "unknown_offer",
        )
    if row["sku"] and row["sku"] not in cases:
        return unknown(row, "sku", "offer with sku", "supplier_items")
    if not row["sku"] and "" not in cases and len(cases) > 1:
        known = " ".join(sorted(cases))
        return row.problem("sku", f"which of {known}? Fill in the sku", "which_offer")
    return None


def _too_many_cases(row: Row, case: Fraction | None) -> Iterator[Problem]:
    for column in ("cases", "confirmed_cases"):
        if case and (row[column] or 0) * case > Fraction(LIMIT):
            most = int(Fraction(LIMIT) / case)
            yield row.problem(column, f"{row[column]} is too large; at most {most:,} cases fit")


def _pars(book: Book) -> Iterator[Problem]:
    stored = set(
        Par.objects.filter(par__isnull=False).values_list("location__code", "item__code", "weekday")
    )
    for row in book["pars"]:
        basis, level = row["basis"], row["service_level"]
        key = row["location"], row["item"], row["weekday"]
        missing = row["par"] is None and (row.has("par") or key not in stored)
        if missing and basis in (Par.Basis.FIXED, Par.Basis.GREATER):
            yield row.problem("par", f"is empty, but basis {basis} needs a par", "par_missing")
        if level is not None and not 0 < level < 1:
            message = f"{figure(level)} must lie between 0 and 1, such as 0.95"
            yield row.problem("service_level", message, "service_level")


def _supply_circles(book: Book, known: Known) -> Iterator[Problem]:
    """A par row may name another supplying location for its item; the way must not come back."""
    own: dict[str, dict[str, str]] = defaultdict(dict)
    stored = Par.objects.filter(supplied_by__isnull=False).values_list(
        "item__code", "location__code", "supplied_by__code"
    )
    for item, place, source in stored:
        own[item][place] = source
    rows = [row for row in book["pars"] if row["supplied_by"] is not None]
    for row in rows:
        own[row["item"]][row["location"]] = row["supplied_by"]
    for row in rows:
        way = _way_from(row["location"], own[row["item"]], known.supplied_by)
        if way[-1] == row["location"]:
            message = f"{' is supplied by '.join(way)}: name one that buys {row['item']} itself"
            yield row.problem("supplied_by", message, "supply_circle")


def _way_from(start: str, own: dict[str, str], usual: dict[str, str | None]) -> list[str]:
    """Locations from ``start`` on, to one that buys, or to the first that comes twice."""
    way = [start]
    seen: set[str] = set()
    while way[-1] not in seen and (source := own.get(way[-1]) or usual.get(way[-1])):
        seen.add(way[-1])
        way.append(source)
    return way if len(way) > 1 else ["", ""]


def _nominal_without_catch(book: Book) -> Iterator[Problem]:
    for row in book["supplier_items"]:
        if row["nominal_qty"] is not None and not row["catch_weight"]:
            message = "is only used where catch_weight is yes; say yes there, or leave it out"
            yield row.problem("nominal_qty", message, "nominal_unused")


def _doubtful_costs(book: Book, known: Known, offers: KnownOffers) -> Iterator[Problem]:
    for row in book["stock"]:
        cost, offered = row["unit_cost"], offers.costs.get(row["item"], ())
        if cost and offered and not any(_near(Fraction(cost), price) for price in offered):
            price = as_decimal(_nearest(Fraction(cost), offered)).normalize()
            yield row.problem(
                "unit_cost",
                f"{figure(cost)} is more than ten times off the offer's {figure(price)} per "
                f"{known.items[row['item']].base}; unit_cost is per g, ml or each, whatever the "
                "unit of the row",
                "doubtful_cost",
            )


def _near(cost: Fraction, price: Fraction) -> bool:
    return price <= cost * DOUBTFUL_RATIO and cost <= price * DOUBTFUL_RATIO


def _nearest(cost: Fraction, prices: Iterable[Fraction]) -> Fraction:
    return min(prices, key=lambda price: abs(price - cost))
