"""Items with their units, allergens and costs. They know no moment of change; the events do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.rows import ItemRow
from inventory.models import Item
from inventory.selectors import seen


class Items(base.Listing):
    """Every item, retired ones included."""

    operation, tag, key = "items", "items", "code"
    row_class = ItemRow

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Item]:
        return seen.items(self.viewer)


class OneItem(base.Seen):
    """One item."""

    operation, tag = "item", "items"
    row_class = ItemRow

    def seen(self, code: str) -> Item:
        return seen.only(seen.items(self.viewer), code=code)
