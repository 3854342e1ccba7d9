"""Checked rows of purchasing's sheets into the database, in bulk, inside a transaction."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from typing import Any

from inventory.engine.units import as_decimal
from inventory.exchange.grammar import Book, Row
from inventory.exchange.store import facts, item_ids, location_ids
from inventory.exchange.upsert import Tally, Wanted, upsert
from inventory.selectors.measures import Measures
from purchasing.models import (
    Offer,
    OrderLine,
    Par,
    Price,
    PriceBreak,
    PurchaseOrder,
    Supplier,
    SupplierClosure,
)
from purchasing.selectors.supply import case_base, priced_units

OfferIds = dict[tuple[str, str, str], int]


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
    offers = offer_ids()
    done["price_breaks"] = upsert(
        PriceBreak,
        ("offer_id", "from_cases"),
        (
            Wanted((named_offer(row, offers), row["from_cases"]), facts(row, "price"))
            for row in book["price_breaks"]
        ),
    )
    done["pars"] = _pars(book)
    return done


def offer_ids() -> OfferIds:
    rows = Offer.objects.values_list("supplier__code", "item__code", "sku", "pk")
    return {(supplier, item, sku): pk for supplier, item, sku, pk in rows}


def named_offer(row: Row, offers: OfferIds) -> int:
    """The offer that a row names; without a sku the only one there is."""
    key = row["supplier"], row["item"], row["sku"] or ""
    if key in offers:
        return offers[key]
    return next(pk for (supplier, item, _), pk in offers.items() if (supplier, item) == key[:2])


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
    offers = offer_ids()
    prices = upsert(
        Price,
        ("offer_id", "starts_on"),
        (
            Wanted((named_offer(row, offers), row["valid_from"]), facts(row, "price"))
            for row in rows
        ),
    )
    return Tally(tally.added, tally.changed + prices.changed, tally.same)


def _pars(book: Book) -> Tally:
    items, places = item_ids(), location_ids()

    def wanted(row: Row) -> Wanted:
        told = facts(row, "par", "unit", "basis", "service_level")
        if row.has("supplied_by"):
            told["supplied_by_id"] = places.get(row["supplied_by"])
        return Wanted((places[row["location"]], items[row["item"]], row["weekday"]), told)

    return upsert(Par, ("location_id", "item_id", "weekday"), map(wanted, book["pars"]))


def store_open_orders(book: Book, measures: Measures) -> Tally:
    """Orders that were placed before: one per number, location and delivery day."""
    rows = book["open_orders"]
    suppliers = dict(Supplier.objects.values_list("code", "pk"))
    places, offers = location_ids(), offer_ids()
    heads: dict[tuple[Any, ...], Row] = {}
    for row in rows:
        key = suppliers[row["supplier"]], row["po"], places[row["location"]], row["due"]
        heads.setdefault(key, row)
    orders = _orders(heads)
    offer_rows = {
        offer.pk: offer for offer in Offer.objects.select_related("item", "supplier").all()
    }
    prices = _prices()

    def wanted(row: Row) -> Wanted:
        key = suppliers[row["supplier"]], row["po"], places[row["location"]], row["due"]
        offer = offer_rows[named_offer(row, offers)]
        told = facts(row, "cases", "confirmed_cases")
        if (orders[key], offer.pk) not in stored:
            told |= _written_on_line(offer, prices.get(offer.pk, Decimal(0)), measures)
        return Wanted((orders[key], offer.pk), told)

    stored = set(
        OrderLine.objects.filter(order__in=orders.values()).values_list("order_id", "offer_id")
    )
    return upsert(
        OrderLine,
        ("order_id", "offer_id"),
        map(wanted, rows),
        OrderLine.objects.filter(order__in=orders.values()),
    )


def _orders(heads: dict[tuple[Any, ...], Row]) -> dict[tuple[Any, ...], int]:
    """Orders by supplier, number, location and day. A number used for several days or
    locations is stored with a count behind it, since an order has one delivery."""
    keys = ("supplier_id", "reference", "location_id", "delivery")
    found = {
        tuple(getattr(order, key) for key in keys): order
        for order in PurchaseOrder.objects.filter(reference__in={key[1] for key in heads})
    }
    taken = set(PurchaseOrder.objects.values_list("number", flat=True))
    new = []
    for key, row in heads.items():
        status = row["status"] or PurchaseOrder.Status.SENT
        if (order := found.get(key)) is None:
            number = _free_number(key[1], taken)
            new.append(
                PurchaseOrder(number=number, status=status, **dict(zip(keys, key, strict=True)))
            )
        elif row.has("status") and order.status != status and order.is_coming:
            PurchaseOrder.objects.filter(pk=order.pk).update(status=status)
    PurchaseOrder.objects.bulk_create(new)
    stored = PurchaseOrder.objects.filter(reference__in={key[1] for key in heads})
    return {tuple(getattr(order, key) for key in keys): order.pk for order in stored}


def _free_number(reference: str, taken: set[str]) -> str:
    number, count = reference, 1
    while number in taken:
        count += 1
        number = f"{reference}.{count}"
    taken.add(number)
    return number


def _prices() -> dict[int, Decimal]:
    """The latest price of every offer."""
    prices: dict[int, Decimal] = defaultdict(Decimal)
    for offer_id, price in Price.objects.order_by("starts_on").values_list("offer_id", "price"):
        prices[offer_id] = price
    return prices


def _written_on_line(offer: Offer, price: Decimal, measures: Measures) -> dict[str, Any]:
    return {
        "item": offer.item,
        "pack_qty": offer.pack_qty,
        "pack_unit": offer.pack_unit,
        "pack_base": as_decimal(case_base(offer, measures)),
        "price": price,
        "priced_per": offer.priced_per,
        "priced_units": priced_units(offer, measures),
    }
