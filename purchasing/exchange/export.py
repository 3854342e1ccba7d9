"""Purchasing's sheets, out."""

from __future__ import annotations

from collections.abc import Callable

from django.db.models import Q, QuerySet

from inventory.exchange.export import CHUNK, Rows, cells, days
from inventory.exchange.grammar import WEEKDAYS
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


def _kept_suppliers() -> QuerySet[Supplier]:
    """A workbook has no word for what is retired: it is left out, unless it still delivers."""
    in_use = Q(retired_on__isnull=True) | Q(orders__in=PurchaseOrder.objects.on_order())
    return Supplier.objects.filter(in_use).distinct()


def _kept_offers() -> QuerySet[Offer]:
    on_sale = Q(retired_on__isnull=True, supplier__retired_on__isnull=True)
    coming = Q(order_lines__order__in=PurchaseOrder.objects.on_order())
    return Offer.objects.filter(on_sale | coming).distinct()


def _suppliers() -> Rows:
    for row in _kept_suppliers().order_by("pk"):
        yield cells(
            row.code,
            row.name,
            row.email,
            row.phone,
            row.account,
            days(row.order_days),
            row.cutoff,
            row.lead_days,
            days(row.delivery_days),
            row.arrives,
            row.minimum_order,
            row.below_minimum,
            row.delivery_fee,
        )


def _supplier_closures() -> Rows:
    closures = SupplierClosure.objects.filter(supplier__in=_kept_suppliers())
    for row in closures.select_related("supplier").order_by("pk"):
        yield cells(row.supplier.code, row.date)


def _supplier_items() -> Rows:
    """One row per price: the history of an offer differs in price and valid_from only."""
    prices = Price.objects.filter(offer__in=_kept_offers())
    related = prices.select_related("offer__supplier", "offer__item")
    for price in related.order_by("offer_id", "starts_on").iterator(CHUNK):
        row = price.offer
        yield cells(
            row.supplier.code,
            row.item.code,
            row.pack_qty,
            row.pack_unit,
            price.price,
            row.priced_per,
            row.sku,
            row.gtin,
            row.pack_text,
            row.piece_price,
            row.pieces_per_case,
            row.minimum_cases,
            row.case_multiple,
            row.rank,
            row.catch_weight,
            row.nominal_qty,
            price.starts_on,
        )


def _price_breaks() -> Rows:
    breaks = PriceBreak.objects.filter(offer__in=_kept_offers())
    for row in breaks.select_related("offer__supplier", "offer__item").order_by("pk"):
        offer = row.offer
        yield cells(offer.supplier.code, offer.item.code, row.from_cases, row.price, offer.sku)


def _pars() -> Rows:
    for row in Par.objects.select_related("location", "item", "supplied_by").order_by("pk"):
        yield cells(
            row.location.code,
            row.item.code,
            "" if row.weekday is None else WEEKDAYS[row.weekday],
            row.par,
            row.unit,
            row.basis,
            row.service_level,
            row.supplied_by.code if row.supplied_by else "",
        )


def _open_orders() -> Rows:
    """What is still coming, as whole cases; what has come is stock."""
    lines = OrderLine.objects.filter(order__in=PurchaseOrder.objects.on_order())
    related = lines.select_related("order__supplier", "order__location", "item", "offer")
    for row in related.order_by("order_id", "pk").iterator(CHUNK):
        gone = int(row.received_cases + row.given_up_cases)
        confirmed = row.confirmed_cases
        yield cells(
            row.order.supplier.code,
            row.order.reference or row.order.number,
            row.order.location.code,
            row.item.code,
            max(0, row.cases - gone),
            row.order.delivery,
            row.offer.sku,
            None if confirmed is None else max(0, confirmed - gone),
            row.order.status,
        )


PURCHASING_ROWS: dict[str, Callable[[], Rows]] = {
    "suppliers": _suppliers,
    "supplier_closures": _supplier_closures,
    "supplier_items": _supplier_items,
    "price_breaks": _price_breaks,
    "pars": _pars,
    "open_orders": _open_orders,
}
