"""Documents of what is in the kitchen."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from rest_framework import serializers

from inventory.api.fields import Cost, Figure, Hour, Row
from inventory.engine.units import STANDARD_UNITS, ItemMeasures
from inventory.models import Hold, Item, Location, Lot, StorageArea, Transfer

Text = serializers.CharField


def base_unit(item: Item) -> str:
    """g, ml or each. Units of the house's own are read from the prefetched ``units``."""
    standard = item.unit in STANDARD_UNITS
    own = (
        {} if standard else {row.word: (Fraction(row.qty), row.of_unit) for row in item.units.all()}
    )
    return ItemMeasures(item.name, item.unit, own=own).base


class BaseUnit(serializers.CharField):
    """The base unit in which the row's quantities are, from its item."""

    def to_representation(self, value: Any) -> str:
        return base_unit(value)


class AreaRow(Row):
    code = Text()
    name = Text()
    kind = serializers.ChoiceField(StorageArea.Kind.choices)
    walk_order = serializers.IntegerField(allow_null=True)


class LocationRow(Row):
    code = Text()
    name = Text()
    kind = serializers.ChoiceField(Location.Kind.choices)
    supplied_by = Text(source="supplied_by.code", default=None, allow_null=True)
    receives = serializers.ListField(child=serializers.IntegerField(), help_text="Monday = 0.")
    opens = Hour(allow_null=True)
    closes = Hour(allow_null=True)
    load_time = Hour(allow_null=True)
    retired_on = serializers.DateField(allow_null=True)
    areas = AreaRow(many=True)


class UnitRow(Row):
    word = Text()
    qty = Figure(read_only=True)
    of_unit = Text()


class AllergenRow(Row):
    allergen = Text()
    says = serializers.ChoiceField(["contains", "may", "free"])


class ItemCostRow(Row):
    starts_on = serializers.DateField()
    cost = Cost(help_text="Per base unit; null for people who do not see cost.")
    source = Text()  # type: ignore[assignment]


class ItemRow(Row):
    code = Text()
    name = Text()
    kind = serializers.ChoiceField(Item.Kind.choices)
    unit = Text()
    base_unit = BaseUnit(source="*")
    storage = Text(help_text="frozen, chilled, dry or empty.")
    shelf_life_days = serializers.IntegerField(allow_null=True)
    shelf_life_opened_days = serializers.IntegerField(allow_null=True)
    shelf_life_thawed_days = serializers.IntegerField(allow_null=True)
    may_freeze = serializers.BooleanField()
    grams_per_ml = Figure(read_only=True, allow_null=True)
    grams_per_each = Figure(read_only=True, allow_null=True)
    tcs = serializers.BooleanField()
    ready_to_eat = serializers.BooleanField()
    traceability_listed = serializers.BooleanField()
    sale_price = Figure(read_only=True, allow_null=True)
    on_return = Text(help_text="keep, keep_if_cold, discard or empty.")
    walk_order = serializers.IntegerField(allow_null=True)
    retired_on = serializers.DateField(allow_null=True)
    units = UnitRow(many=True)
    allergens = AllergenRow(
        many=True, source="allergen_words", help_text="What is not named is not stated."
    )
    costs = ItemCostRow(many=True)


class ThereRow(Row):
    location = Text(source="location.code")
    qty = Figure(read_only=True)


class LotHoldRow(Row):
    location = Text(
        source="location.code", default=None, allow_null=True, help_text="null: everywhere."
    )
    reason = serializers.ChoiceField(Hold.Reason.choices)
    note = Text()
    opened_at = serializers.DateTimeField(allow_null=True)


class LotRow(Row):
    strip = Text()
    item = Text(source="item.code")
    unit = BaseUnit(source="item")
    supplier_lot = Text()
    received_on = serializers.DateField(allow_null=True)
    use_by = serializers.DateField(allow_null=True)
    origin = serializers.ChoiceField(Lot.Origin.choices)
    state = Text(help_text="frozen, thawing, chilled, opened, ambient, hot or empty.")
    state_since = serializers.DateField(allow_null=True)
    parent = Text(  # type: ignore[assignment]
        source="parent.strip", default=None, allow_null=True
    )
    area = Text(source="area.code", default=None, allow_null=True)
    unit_cost = Cost()
    on_hand = ThereRow(many=True)
    holds = LotHoldRow(many=True, help_text="Open ones.")

    def sees_cost(self, instance: Any) -> bool:
        return bool(instance.cost_is_seen)


class OnHandRow(Row):
    lot = Text(source="lot.strip")
    item = Text(source="item.code")
    location = Text(source="location.code")
    qty = Figure(read_only=True)
    unit = BaseUnit(source="item")
    use_by = serializers.DateField(source="lot.use_by", allow_null=True)
    unit_cost = Cost(source="lot.unit_cost")

    def sees_cost(self, instance: Any) -> bool:
        return self.viewer.sees_cost(instance.location_id)


class HoldRow(LotHoldRow):
    lot = Text(source="lot.strip")
    item = Text(source="lot.item.code")
    opened_by = Text(source="opened_by.username", default=None, allow_null=True)
    closed_at = serializers.DateTimeField(allow_null=True)
    closed_by = Text(source="closed_by.username", default=None, allow_null=True)


class TransferLineRow(Row):
    lot = Text(source="lot.strip")
    item = Text(source="lot.item.code")
    unit = BaseUnit(source="lot.item")
    sent = Figure(read_only=True)
    arrived = Figure(read_only=True, allow_null=True)
    missing = Figure(read_only=True, allow_null=True)


class TransferRow(Row):
    number = Text()
    kind = serializers.ChoiceField(Transfer.Kind.choices)
    source = Text(source="source.code")  # type: ignore[assignment]
    target = Text(source="target.code")
    leaves_on = serializers.DateField()
    sent_at = serializers.DateTimeField(allow_null=True)
    sent_by = Text(source="sent_by.username", default=None, allow_null=True)
    arrived_at = serializers.DateTimeField(allow_null=True)
    arrived_by = Text(source="arrived_by.username", default=None, allow_null=True)
    lines = TransferLineRow(many=True)


class EventRow(Row):
    at = serializers.DateTimeField()
    by = Text(source="by.username", default=None, allow_null=True)
    device = Text()
    verb = Text()
    subject = Text(help_text="Table and code, such as lot:KALUM.")
    changes = serializers.DictField()
