"""Data that blocks a promise, most harmful first."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api import base
from purchasing.selectors.not_ready import NotReadyPage, not_ready_page


class GapRow(serializers.Serializer[Any]):
    sentence = serializers.CharField()
    mend = serializers.CharField(
        source="fix.words", default=None, allow_null=True, help_text="null: not by this person."
    )


class KindRow(serializers.Serializer[Any]):
    title = serializers.CharField()
    harm = serializers.CharField()
    count = serializers.IntegerField()
    gaps = GapRow(many=True)


class NotReadyRow(serializers.Serializer[Any]):
    kinds = KindRow(many=True)


class NotReady(base.Seen):
    """What is missing, as sentences, and what each would harm."""

    operation, tag = "not_ready", "not-ready"
    row_class = NotReadyRow

    def seen(self) -> NotReadyPage:
        return not_ready_page(self.viewer, self.now())
