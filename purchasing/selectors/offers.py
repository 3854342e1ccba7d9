"""Offers and their prices as pages and acts ask for them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db.models import F, Q, QuerySet

from purchasing.models import Offer, Price


def price_on(offer: Offer, day: date) -> Decimal | None:
    """Per priced unit: the latest start on or before ``day``; None if not on sale yet."""
    started = Price.objects.filter(Q(starts_on__isnull=True) | Q(starts_on__lte=day), offer=offer)
    latest = started.order_by(F("starts_on").desc(nulls_last=True)).first()
    return latest.price if latest else None


def on_sale(supplier_id: int) -> QuerySet[Offer]:
    """What a supplier sells now, by item."""
    offers = Offer.objects.filter(supplier=supplier_id, retired_on__isnull=True)
    return offers.select_related("item", "supplier").order_by("item__name", "rank", "sku")
