"""Suppliers and their offers. They know no moment of change; the events do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Words
from purchasing.api.rows import OfferRow, SupplierRow
from purchasing.models import Offer, Supplier
from purchasing.selectors import seen


class Suppliers(base.Listing):
    """Every supplier, retired ones included. Rows know no moment of change; the events do."""

    operation, tag, key = "suppliers", "suppliers", "code"
    row_class = SupplierRow

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Supplier]:
        return seen.suppliers(self.viewer)


class OffersAsked(serializers.Serializer[Any]):
    """Of one supplier, or of one item."""

    supplier = Words(40, code=f"^{CODE}$", required=False)
    item = Words(40, code=f"^{CODE}$", required=False)


class Offers(base.Listing):
    """What suppliers sell, in which packs, at what price from which day on. Rows know no moment
    of change; the events do."""

    operation, tag = "offers", "suppliers"
    row_class = OfferRow
    asked_class = OffersAsked

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Offer]:
        return seen.offers(self.viewer).filter(**{f"{key}__code": asked[key] for key in asked})
