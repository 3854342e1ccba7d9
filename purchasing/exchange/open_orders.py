"""The sheet of open orders: what was ordered before the books were opened here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import Any

from django.db.models import Q

from inventory.engine.units import as_decimal
from inventory.exchange.grammar import Book, Row
from inventory.exchange.store import facts, location_ids
from inventory.exchange.upsert import ROWS_AT_ONCE, Tally, Wanted, upsert
from inventory.selectors.measures import Measures
from purchasing.exchange.named_offers import NamedOffers
from purchasing.models import Offer, OrderLine, Price, PriceBreak, PurchaseOrder, Supplier
from purchasing.selectors.supply import case_base, priced_units

# An order has one delivery: supplier, number as it came, location and day name it.
OrderKey = tuple[int, str, int, date]


def store_open_orders(book: Book, measures: Measures) -> Tally:
    """Orders and their lines, inside the transaction of the load. The pack and the price in
    force on the delivery day, the price break that the cases reach included, are written on a
    new line and stay there."""
    rows = book["open_orders"]
    if not rows:
        return Tally()
    keys = dict(zip((row.number for row in rows), _keys(rows), strict=True))
    orders = _orders({keys[row.number]: row for row in reversed(rows)})
    lines = OrderLine.objects.filter(order__in=orders.values())
    stored = {
        (order, offer): bool(received or given_up)
        for order, offer, received, given_up in lines.values_list(
            "order_id", "offer_id", "received_cases", "given_up_cases"
        )
    }
    offers, prices, breaks = NamedOffers(), _prices(book), _breaks(book)

    def wanted(row: Row, known: Mapping[int, Offer]) -> Wanted:
        order, offer = orders[keys[row.number]], known[offers.named(row)]
        key = order, offer.pk
        # A line that has come in part is kept by those who receive it.
        told = {} if stored.get(key) else facts(row, "cases", "confirmed_cases")
        if key not in stored:
            price = _in_force(prices[offer.pk], row["due"])
            reached = (lower for least, lower in breaks[offer.pk] if least <= row["cases"])
            told |= _written_on_line(offer, min([price, *reached]), measures)
        return Wanted(key, told)

    return upsert(
        OrderLine,
        ("order_id", "offer_id"),
        (wanted(row, known) for part, known in _with_offers(rows, offers) for row in part),
        lines,
    )


def _with_offers(
    rows: Iterable[Row], offers: NamedOffers
) -> Iterator[tuple[list[Row], dict[int, Offer]]]:
    """Some rows at a time, with the offers they name."""
    left = iter(rows)
    while part := list(islice(left, ROWS_AT_ONCE)):
        named = Offer.objects.select_related("item").in_bulk({offers.named(row) for row in part})
        yield part, named


def _keys(rows: Iterable[Row]) -> Iterator[OrderKey]:
    suppliers, places = dict(Supplier.objects.values_list("code", "pk")), location_ids()
    for row in rows:
        yield suppliers[row["supplier"]], row["po"], places[row["location"]], row["due"]


def _orders(heads: dict[OrderKey, Row]) -> dict[OrderKey, int]:
    """Orders by key, made where they are not there yet. A number used for several days or
    locations is stored with a count behind it."""
    found = _stored_orders(heads)
    taken = set(PurchaseOrder.objects.values_list("number", flat=True))
    new = [
        PurchaseOrder(
            number=_free_number(key[1], taken),
            status=row["status"] or PurchaseOrder.Status.SENT,
            **dict(zip(("supplier_id", "reference", "location_id", "delivery"), key, strict=True)),
        )
        for key, row in sorted(heads.items(), key=lambda head: head[1].number)
        if key not in found
    ]
    PurchaseOrder.objects.bulk_create(new, batch_size=ROWS_AT_ONCE)
    _follow_status(found, heads)
    return {key: order.pk for key, order in _stored_orders(heads).items()}


def _stored_orders(keys: Iterable[OrderKey]) -> dict[OrderKey, PurchaseOrder]:
    """Orders that came with these numbers, or got them here; a draft is not an order yet."""
    numbers = {key[1] for key in keys}
    came = Q(reference__in=numbers) | Q(reference="", number__in=numbers)
    rows = PurchaseOrder.objects.exclude(status=PurchaseOrder.Status.DRAFT).filter(came)
    return {
        (row.supplier_id, row.reference or row.number, row.location_id, row.delivery): row
        for row in rows
    }


def _follow_status(found: Mapping[OrderKey, PurchaseOrder], heads: Mapping[OrderKey, Row]) -> None:
    """What is still coming may go from approved to sent, and back."""
    moved: dict[str, list[int]] = defaultdict(list)
    for key, order in found.items():
        row = heads.get(key)
        if row and row.has("status") and order.is_coming and order.status != row["status"]:
            moved[row["status"]].append(order.pk)
    for status, orders in moved.items():
        PurchaseOrder.objects.filter(pk__in=orders).update(status=status)


def _free_number(reference: str, taken: set[str]) -> str:
    number, count = reference, 1
    while number in taken:
        count += 1
        number = f"{reference}.{count}"
    taken.add(number)
    return number


def _prices(book: Book) -> dict[int, list[tuple[date, Decimal]]]:
    """Starts and prices of the items on order, by offer; the first start is always."""
    prices: dict[int, list[tuple[date, Decimal]]] = defaultdict(list)
    rows = Price.objects.filter(offer__item__code__in={row["item"] for row in book["open_orders"]})
    for offer, start, price in rows.values_list("offer_id", "starts_on", "price").iterator():
        prices[offer].append((start or date.min, price))
    return prices


def _breaks(book: Book) -> dict[int, list[tuple[int, Decimal]]]:
    """Cases from which a lower price holds, of the items on order, by offer."""
    breaks: dict[int, list[tuple[int, Decimal]]] = defaultdict(list)
    items = {row["item"] for row in book["open_orders"]}
    rows = PriceBreak.objects.filter(offer__item__code__in=items)
    for offer, least, price in rows.values_list("offer_id", "from_cases", "price").iterator():
        breaks[offer].append((least, price))
    return breaks


def _in_force(prices: Iterable[tuple[date, Decimal]], day: date) -> Decimal:
    """The latest start on or before ``day``; before the first one, the first."""
    ordered = sorted(prices)
    started = [price for start, price in ordered if start <= day]
    return started[-1] if started else ordered[0][1]


def _written_on_line(offer: Offer, price: Decimal, measures: Measures) -> dict[str, Any]:
    return {
        "item_id": offer.item_id,
        "pack_qty": offer.pack_qty,
        "pack_unit": offer.pack_unit,
        "pack_base": as_decimal(case_base(offer, measures)),
        "price": price,
        "priced_per": offer.priced_per,
        "priced_units": priced_units(offer, measures),
    }
