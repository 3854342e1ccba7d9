"""Goods between places: load-outs, returns, hand-overs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import ChangedSince
from inventory.api.rows import TransferRow
from inventory.models import Transfer
from inventory.selectors import seen


class Transfers(base.Listing):
    """What left or reached the places of whoever asks."""

    operation, tag, key = "transfers", "transfers", "number"
    row_class = TransferRow
    asked_class = ChangedSince

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Transfer]:
        rows = seen.transfers(self.viewer)
        since = asked.get("changed_since")
        return rows if since is None else seen.transfers_changed_since(rows, since)


class OneTransfer(base.Seen):
    """One of them, with its lines."""

    operation, tag = "transfer", "transfers"
    row_class = TransferRow

    def seen(self, number: str) -> Transfer:
        return seen.only(seen.transfers(self.viewer), number=number)
