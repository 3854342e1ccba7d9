"""Where a lot came from and where it went, each gram accounted for."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api import base
from inventory.selectors.seen import lots, only
from purchasing.selectors.trace_document import trace_document


class TraceRow(serializers.Serializer[Any]):
    """As the command `trace --json` prints it; quantities in the unit of each item."""

    lot = serializers.CharField()
    item = serializers.CharField()
    unit = serializers.CharField()
    supplier_lot = serializers.CharField()
    origin = serializers.CharField()
    received_on = serializers.CharField(allow_null=True)
    use_by = serializers.CharField(allow_null=True)
    parts = serializers.ListField(child=serializers.CharField())
    received = serializers.DictField(allow_null=True)
    on_hold = serializers.ListField(child=serializers.DictField())
    back = serializers.ListField(child=serializers.DictField())
    forward = serializers.ListField(child=serializers.DictField())

    def to_representation(self, instance: Any) -> Any:
        return instance


class Trace(base.Seen):
    """Back to the supplier and forward to the stops, whole: who sees the lot sees all of it."""

    operation, tag = "trace", "lots"
    row_class = TraceRow

    def seen(self, strip: str) -> dict[str, Any]:
        return trace_document(only(lots(self.viewer), strip=strip))
