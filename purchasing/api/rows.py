"""Documents of what is bought."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api.fields import Cost, Figure, Hour, Row
from inventory.api.rows import BaseUnit
from purchasing.models import Answer, Par, PurchaseOrder, Sending

Text = serializers.CharField
# Reasons that are money.
MONEY_REASONS = frozenset({"expected_waste_value", "weighed"})


class Reasons(serializers.DictField):
    """The keys of a run's reasons; quantities in the unit that ``unit`` names. Money is left
    out for people who do not see cost."""

    def get_attribute(self, instance: Any) -> Any:
        said: Mapping[str, Any] = super().get_attribute(instance) or {}
        parent = self.parent
        assert isinstance(parent, Row)
        if parent.sees_cost(instance):
            return said
        return {name: value for name, value in said.items() if name not in MONEY_REASONS}


class ClosureRow(Row):
    date = serializers.DateField()


class SupplierRow(Row):
    code = Text()
    name = Text()
    email = Text()
    phone = Text()
    account = Text()
    order_days = serializers.ListField(child=serializers.IntegerField(), help_text="Monday = 0.")
    cutoff = Hour()
    lead_days = serializers.IntegerField()
    delivery_days = serializers.ListField(child=serializers.IntegerField())
    arrives = Hour(allow_null=True)
    minimum_order = Cost()
    below_minimum = Text(help_text="refuse, fee or empty.")
    delivery_fee = Cost()
    closures = ClosureRow(many=True, help_text="Neither orders nor deliveries on these days.")
    retired_on = serializers.DateField(allow_null=True)


class PriceRow(Row):
    starts_on = serializers.DateField(allow_null=True, help_text="null: since always.")
    price = Cost()


class PriceBreakRow(Row):
    from_cases = serializers.IntegerField()
    price = Cost()


class OfferRow(Row):
    supplier = Text(source="supplier.code")
    item = Text(source="item.code")
    sku = Text()
    pack_qty = Figure(read_only=True)
    pack_unit = Text()
    pack_text = Text()
    priced_per = Text()
    gtin = Text()
    minimum_cases = serializers.IntegerField()
    case_multiple = serializers.IntegerField()
    rank = serializers.IntegerField(help_text="1: first choice.")
    catch_weight = serializers.BooleanField()
    nominal_qty = Figure(read_only=True, allow_null=True)
    retired_on = serializers.DateField(allow_null=True)
    prices = PriceRow(many=True)
    breaks = PriceBreakRow(many=True)


class AnswerRow(Row):
    says = serializers.ChoiceField(Answer.Says.choices)
    cases = serializers.IntegerField(allow_null=True)
    substitute = Text(source="substitute.code", default=None, allow_null=True)
    new_date = serializers.DateField(allow_null=True)
    at = serializers.DateTimeField()
    by = Text(source="by.username", default=None, allow_null=True)
    note = Text()


class OrderLineRow(Row):
    item = Text(source="item.code")
    sku = Text(source="offer.sku")
    cases = serializers.IntegerField()
    our_cases = serializers.IntegerField(allow_null=True, help_text="What we would order.")
    touched = serializers.BooleanField(help_text="A person set the cases.")
    why = Text(source="touched_why")
    pack_qty = Figure(read_only=True)
    pack_unit = Text()
    price = Cost()
    priced_per = Text()
    value = Cost(help_text="Not rounded; nominal weight where it is catch weight.")
    confirmed_cases = serializers.IntegerField(allow_null=True)
    received_cases = Figure(read_only=True)
    given_up_cases = Figure(read_only=True)
    due = serializers.DateField()
    answers = AnswerRow(many=True)
    reasons = Reasons()

    def sees_cost(self, instance: Any) -> bool:
        return self.viewer.sees_cost(instance.order.location_id)


class SendingRow(Row):
    how = serializers.ChoiceField(Sending.How.choices)
    to = Text()
    by = Text(source="by.username", default=None, allow_null=True)
    asked_at = serializers.DateTimeField()
    sent_at = serializers.DateTimeField(allow_null=True)
    stopped_at = serializers.DateTimeField(allow_null=True)
    failure = Text()


class OrderValue(Cost):
    def to_representation(self, value: Any) -> Any:
        total = sum((line.value for line in value.lines.all()), Decimal(0))
        return super().to_representation(total)


class OrderRow(Row):
    number = Text()
    reference = Text()
    supplier = Text(source="supplier.code")
    location = Text(source="location.code")
    status = serializers.ChoiceField(PurchaseOrder.Status.choices)
    version = serializers.IntegerField(help_text="Also the ETag.")
    delivery = serializers.DateField()
    next_delivery = serializers.DateField(allow_null=True)
    order_by = serializers.DateTimeField(allow_null=True)
    last_order_by = serializers.DateTimeField(allow_null=True)
    decision = Text(help_text="What was decided of the minimum.")
    touched = serializers.BooleanField()
    run = serializers.IntegerField(source="run_id", allow_null=True)
    value = OrderValue(source="*", help_text="Not rounded.")
    approved_at = serializers.DateTimeField(allow_null=True)
    approved_by = Text(source="approved_by.username", default=None, allow_null=True)
    skipped_at = serializers.DateTimeField(allow_null=True)
    skipped_by = Text(source="skipped_by.username", default=None, allow_null=True)
    skipped_why = Text()
    sent_at = serializers.DateTimeField(allow_null=True)
    received_at = serializers.DateTimeField(allow_null=True)
    cancelled_at = serializers.DateTimeField(allow_null=True)
    sendings = SendingRow(many=True)
    lines = OrderLineRow(many=True)

    def sees_cost(self, instance: Any) -> bool:
        return self.viewer.sees_cost(instance.location_id)


class ReceiptLineRow(Row):
    """In cases, but for ``weight`` (base units)."""

    item = Text(source="item.code")
    sku = Text(source="order_line.offer.sku", default=None, allow_null=True)
    lot = Text(source="lot.strip", default=None, allow_null=True)
    expected = Figure(read_only=True)
    accepted = Figure(read_only=True)
    rejected = Figure(read_only=True)
    substituted = Figure(read_only=True)
    to_follow = Figure(read_only=True)
    cancelled = Figure(read_only=True)
    over = Figure(read_only=True)
    weight = Figure(read_only=True, allow_null=True)
    temperature = Figure(read_only=True, allow_null=True)
    temperature_unit = Text(help_text="F, C or empty.")
    reject_reason = Text()
    override_reason = Text()
    override_by = Text(source="override_by.username", default=None, allow_null=True)


class ReceiptRow(Row):
    receipt = serializers.IntegerField(source="pk", help_text="As in the references of movements.")
    order = Text(source="order.number", default=None, allow_null=True)
    supplier = Text(source="supplier.code", default=None, allow_null=True)
    bought_from = Text()
    location = Text(source="location.code")
    document = Text()
    happened_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()
    by = Text(source="by.username", default=None, allow_null=True)
    undone_at = serializers.DateTimeField(allow_null=True)
    undone_by = Text(source="undone_by.username", default=None, allow_null=True)
    undone_why = Text()
    lines = ReceiptLineRow(many=True)


class ParRow(Row):
    location = Text(source="location.code")
    item = Text(source="item.code")
    weekday = serializers.IntegerField(allow_null=True, help_text="Monday = 0; null: every day.")
    par = Figure(read_only=True, allow_null=True)
    unit = Text()
    basis = serializers.ChoiceField(Par.Basis.choices)
    service_level = Figure(read_only=True, allow_null=True)
    supplied_by = Text(source="supplied_by.code", default=None, allow_null=True)


class RunRow(Row):
    run = serializers.IntegerField(source="pk")
    as_of = serializers.DateTimeField()
    seed = serializers.IntegerField()
    paths = serializers.IntegerField()
    worked_out_at = serializers.DateTimeField()


class RunLineRow(Row):
    location = Text(source="location.code")
    item = Text(source="item.code")
    supplier = Text(source="supplier.code", default=None, allow_null=True)
    sku = Text()
    cases = serializers.IntegerField()
    reasons = Reasons()

    def sees_cost(self, instance: Any) -> bool:
        return self.viewer.sees_cost(instance.location_id)


class LotAtRiskRow(Row):
    lot = Text(source="lot.strip")
    item = Text(source="lot.item.code")
    location = Text(source="location.code")
    use_by = serializers.DateField(source="lot.use_by", allow_null=True)
    unit = BaseUnit(source="lot.item")
    there = Figure(read_only=True)
    expected = Figure(read_only=True, help_text="That will not be used in time.")
    chance = Figure(read_only=True, help_text="That some of it will not, 0 to 1.")
    cost = Cost(help_text="Per base unit.")
    move_to = Text(source="move_to.code", default=None, allow_null=True)
    move_qty = Figure(read_only=True)
    worked_out_at = serializers.DateTimeField(source="look.done_at")

    def sees_cost(self, instance: Any) -> bool:
        return self.viewer.sees_cost(instance.location_id)
