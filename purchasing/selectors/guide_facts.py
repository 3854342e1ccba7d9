"""A supplier and its offers as their forms are filled: texts in the workbook's columns."""

from __future__ import annotations

from datetime import date

from django.db.models import F, Q

from inventory.exchange.grammar import WEEKDAYS
from inventory.selectors.item_facts import as_word
from purchasing.models import Offer, Price, Supplier

SUPPLIER_COLUMNS = (
    *("name", "email", "phone", "account", "order_days", "cutoff", "lead_days"),
    *("delivery_days", "arrives", "minimum_order", "below_minimum", "delivery_fee"),
)
OFFER_COLUMNS = (
    *("pack_qty", "pack_unit", "pack_text", "priced_per", "gtin", "piece_price"),
    *("pieces_per_case", "minimum_cases", "case_multiple", "rank", "catch_weight", "nominal_qty"),
)
PRICE_COLUMNS = ("price", "valid_from")


def supplier_facts(supplier: Supplier) -> dict[str, str]:
    return {name: _word(name, getattr(supplier, name)) for name in SUPPLIER_COLUMNS}


def offer_facts(offer: Offer, price: Price | None) -> dict[str, str]:
    """``price``: the one that the form shows."""
    facts = {name: as_word(getattr(offer, name)) for name in OFFER_COLUMNS}
    facts["price"] = as_word(price.price) if price else ""
    facts["valid_from"] = as_word(price.starts_on) if price else ""
    return facts


def latest_price(offer: Offer, day: date) -> Price | None:
    """In force on ``day``, else the first to come."""
    started = Q(starts_on__isnull=True) | Q(starts_on__lte=day)
    by_start = F("starts_on").desc(nulls_last=True)
    known = Price.objects.filter(offer=offer)
    return known.filter(started).order_by(by_start).first() or known.order_by("starts_on").first()


def _word(name: str, value: object) -> str:
    if name in ("order_days", "delivery_days") and isinstance(value, list):
        return ";".join(WEEKDAYS[day] for day in value)
    return as_word(value)
