"""Holds: what is blocked, where and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import AtPlace, ChangedSince
from inventory.api.rows import HoldRow
from inventory.models import Hold
from inventory.selectors import seen


class HoldsAsked(ChangedSince, AtPlace):
    """Opened or closed since; at a place (holds that count everywhere are not named by it)."""


class Holds(base.Listing):
    """Open and closed ones."""

    operation, tag = "holds", "holds"
    row_class = HoldRow
    asked_class = HoldsAsked

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Hold]:
        rows = seen.holds(self.viewer)
        if since := asked.get("changed_since"):
            rows = seen.holds_changed_since(rows, since)
        return seen.at_place(rows, self.viewer, asked.get("location"))
