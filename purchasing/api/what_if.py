"""What follows if a line had so many cases: the engine of the runs, for one line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Words
from inventory.problems import NotThere
from inventory.selectors.measures import Measures
from inventory.selectors.seen import only
from purchasing.api.rows import MONEY_REASONS
from purchasing.engine.picture import DayPicture
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors import seen
from purchasing.selectors.run_document import in_own_unit, line_document, rounded
from purchasing.selectors.what_if import look_ahead
from purchasing.services.order_lines import MOST_CASES

_CHANCE = "short"
_MONEY = ("price", "line_value")


class Asked(serializers.Serializer[Any]):
    item = Words(40, code=f"^{CODE}$")
    sku = Words(40, allow_blank=True, required=False)
    cases = serializers.IntegerField(min_value=0, max_value=MOST_CASES)


class DayRow(serializers.Serializer[Any]):
    """In the unit of the item; `low`, `middle`, `high`: what is left at the end of the day at
    least on nine days of ten, on half of them, on one."""

    day = serializers.DateField()
    arrives = serializers.CharField()
    use = serializers.CharField()
    low = serializers.CharField()
    middle = serializers.CharField()
    high = serializers.CharField()
    spoils = serializers.CharField()
    short = serializers.CharField(help_text="Chance, 0 to 1, that something is lacking.")


class WhatIfRow(serializers.Serializer[Any]):
    line = serializers.DictField(
        allow_null=True, help_text="As a run tells it; null: it cannot be worked out any more."
    )
    days = DayRow(many=True)


class WhatIf(base.Seen):
    """A line of an order with other cases, before anything is stored."""

    operation, tag = "order_what_if", "orders"
    row_class = WhatIfRow
    asked_class = Asked

    def seen(self, asked: Mapping[str, Any], number: str) -> dict[str, Any]:
        order = only(seen.orders(self.viewer), number=number)
        line = _line(order, asked)
        found = look_ahead(order, [(line, asked["cases"])], as_of=self.now())
        if found is None:
            return {"line": None, "days": []}
        ahead = found.lines[line.pk]
        told = line_document(ahead.decision, found.measures)
        if not self.viewer.sees_cost(order.location_id):
            told = {name: value for name, value in told.items() if name not in _MONEY}
            reasons = told["reasons"].items()
            told["reasons"] = {k: value for k, value in reasons if k not in MONEY_REASONS}
        days = [_day(day, line.item.code, found.measures) for day in ahead.days]
        return {"line": told, "days": days}


def _line(order: PurchaseOrder, asked: Mapping[str, Any]) -> OrderLine:
    key = asked["item"], asked.get("sku", "")
    for line in order.lines.all():
        if (line.item.code, line.offer.sku) == key:
            return line
    raise NotThere


def _day(day: DayPicture, item: str, measures: Measures) -> dict[str, Any]:
    names = ("arrives", "use", "low", "middle", "high", "spoils")
    told: dict[str, Any] = {name: in_own_unit(getattr(day, name), item, measures) for name in names}
    return {"day": day.day, **told, _CHANCE: rounded(day.short)}
