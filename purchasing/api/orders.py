"""Orders as they stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.asked import AtPlace, ChangedSince
from inventory.api.codes import CODE
from inventory.api.fields import Words
from inventory.selectors.seen import at_place, only
from purchasing.api.rows import OrderRow
from purchasing.models import PurchaseOrder
from purchasing.selectors import seen


class OrdersAsked(ChangedSince, AtPlace):
    """Changed since: by a person, or drawn up again by a run. Drafts that a run dropped are
    not told."""

    status = serializers.ChoiceField(PurchaseOrder.Status.choices, required=False)
    supplier = Words(40, code=f"^{CODE}$", required=False)


class Orders(base.Listing):
    """Drafts and orders to the places of whoever asks."""

    operation, tag, key = "orders", "orders", "number"
    row_class = OrderRow
    asked_class = OrdersAsked

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[PurchaseOrder]:
        rows = at_place(seen.orders(self.viewer), self.viewer, asked.get("location"))
        if since := asked.get("changed_since"):
            rows = seen.orders_changed_since(rows, since)
        if supplier := asked.get("supplier"):
            rows = rows.filter(supplier__code=supplier)
        return rows.filter(status=asked["status"]) if "status" in asked else rows


class OneOrder(base.Seen):
    """One order, with the version that every change names."""

    operation, tag = "order", "orders"
    row_class = OrderRow
    has_version = True

    def seen(self, number: str) -> PurchaseOrder:
        return only(seen.orders(self.viewer), number=number)
