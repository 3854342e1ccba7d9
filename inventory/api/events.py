"""The log: who did what, in the order in which it was written down."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import ChangedSince
from inventory.api.fields import Words
from inventory.api.rows import EventRow
from inventory.models import Event
from inventory.problems import NotThere
from inventory.roles import Act
from inventory.selectors import seen


class EventsAsked(ChangedSince):
    """At or after a moment; of one thing."""

    subject = Words(120, required=False, help_text="Table and code, such as lot:KALUM.")


class Events(base.Listing):
    """Every act, for people who read the log of every place: an act knows none."""

    operation, tag = "events", "events"
    act = Act.LOG
    row_class = EventRow
    asked_class = EventsAsked

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Event]:
        if not self.viewer.may_everywhere(Act.LOG):
            raise NotThere
        rows = seen.events(self.viewer)
        if since := asked.get("changed_since"):
            rows = rows.filter(at__gte=since)
        if subject := asked.get("subject"):
            rows = rows.filter(subject=subject)
        return rows
