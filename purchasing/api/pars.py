"""Pars by place, item and weekday. They know no moment of change; the events do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import AtPlace
from inventory.selectors.seen import at_place
from purchasing.api.rows import ParRow
from purchasing.models import Par
from purchasing.selectors import seen


class Pars(base.Listing):
    """How much a place wants of an item."""

    operation, tag = "pars", "pars"
    row_class = ParRow
    asked_class = AtPlace

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Par]:
        return at_place(seen.pars(self.viewer), self.viewer, asked.get("location"))
