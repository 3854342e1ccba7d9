"""What is coming, and what came."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import AtPlace, ChangedSince
from inventory.roles import Act
from inventory.selectors.seen import at_place
from purchasing.api.rows import OrderRow, ReceiptRow
from purchasing.models import PurchaseOrder, Receipt
from purchasing.selectors import seen


class Deliveries(base.Listing):
    """Orders on their way, for people who take deliveries in."""

    operation, tag, key = "deliveries", "deliveries", "number"
    act = Act.RECEIVE
    row_class = OrderRow
    asked_class = AtPlace

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[PurchaseOrder]:
        return at_place(seen.deliveries(self.viewer), self.viewer, asked.get("location"))


class ReceiptsAsked(ChangedSince, AtPlace):
    """Told or undone since; at a place."""


class Receipts(base.Listing):
    """What really came, line by line; without an order it was bought at the counter."""

    operation, tag = "receipts", "deliveries"
    row_class = ReceiptRow
    asked_class = ReceiptsAsked

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Receipt]:
        rows = at_place(seen.receipts(self.viewer), self.viewer, asked.get("location"))
        since = asked.get("changed_since")
        return rows if since is None else seen.receipts_changed_since(rows, since)
