"""Lots by strip, and what is on hand of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import AtPlace, ChangedSince
from inventory.api.rows import LotRow, OnHandRow
from inventory.models import Lot, OnHand
from inventory.selectors import seen


class Lots(base.Listing):
    """Lots that are or were at the places of whoever asks."""

    operation, tag, key = "lots", "lots", "strip"
    row_class = LotRow
    asked_class = ChangedSince

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Lot]:
        lots = seen.lots(self.viewer)
        since = asked.get("changed_since")
        return lots if since is None else seen.lots_changed_since(lots, since)


class OneLot(base.Seen):
    """One lot: where it is, and what holds it."""

    operation, tag = "lot", "lots"
    row_class = LotRow

    def seen(self, strip: str) -> Lot:
        return seen.only(seen.lots(self.viewer), strip=strip)


class OnHandAsked(ChangedSince, AtPlace):
    """By place; since a moment also what is used up by now."""


class OnHandNow(base.Listing):
    """What is there, lot by lot. With ``changed_since`` also what has come to nothing."""

    operation, tag = "on_hand", "lots"
    row_class = OnHandRow
    asked_class = OnHandAsked

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[OnHand]:
        since = asked.get("changed_since")
        if since is None:
            rows = seen.on_hand(self.viewer)
        else:
            rows = seen.on_hand_changed_since(self.viewer, since)
        return seen.at_place(rows, self.viewer, asked.get("location"))
