"""Locations with their storage areas. They know no moment of change."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.rows import LocationRow
from inventory.models import Location
from inventory.selectors import seen


class Locations(base.Listing):
    """The places of whoever asks. Rows know no moment of change; the events do."""

    operation, tag, key = "locations", "locations", "code"
    row_class = LocationRow

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Location]:
        return seen.locations(self.viewer)


class OneLocation(base.Seen):
    """One place."""

    operation, tag = "location", "locations"
    row_class = LocationRow

    def seen(self, code: str) -> Location:
        return seen.only(seen.locations(self.viewer), code=code)
