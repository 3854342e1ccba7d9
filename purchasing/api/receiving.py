"""Deliveries taken in, things bought at the counter, receipts taken back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Amount, Day, Figure, Flag, Moment, Words
from inventory.engine.safety import Judged, Reading
from inventory.models import Item
from inventory.problems import Problem, Refused
from inventory.selectors.seen import items, only
from purchasing.api.order_base import Body, OrderAct
from purchasing.api.order_lines import LineName, LinesAct
from purchasing.api.rows import ReceiptRow
from purchasing.models import Receipt
from purchasing.selectors import seen
from purchasing.services import bought, dock
from purchasing.services.receiving import receive
from purchasing.services.receiving_undo import undo_receipt


class Cases(Figure):
    """Cases, or a part of one."""

    def __init__(self, **options: Any) -> None:
        super().__init__(digits=4, places=3, **options)


class LotBody(serializers.Serializer[Any]):
    """Accepted cases of one lot code."""

    cases = Cases()
    supplier_lot = Words(40, required=False)
    printed = Day(required=False, help_text="The last day on the case's label.")
    use_by = Day(required=False, help_text="An earlier day for our own label.")
    weights = serializers.ListField(
        child=Amount(), required=False, max_length=500, help_text="Of each case, catch weight."
    )
    total = Amount(required=False, help_text="Weight of all of them together.")
    weight_unit = Words(20, required=False)


class SubstituteBody(serializers.Serializer[Any]):
    item = Words(40, code=f"^{CODE}$")
    cases = Cases(help_text="Of the ordered item, replaced by it.")
    qty = Amount()
    unit = Words(20)
    supplier_lot = Words(40, required=False)
    use_by = Day(required=False)
    allergens_seen = Flag(required=False, help_text="Somebody compared the allergens.")


class TemperatureBody(serializers.Serializer[Any]):
    degrees = Figure(signed=True, digits=3, places=2)
    unit = serializers.ChoiceField(["F", "C"])


class CameBody(LineName):
    expected = Cases(help_text="Cases that the sender saw as still to come.")
    lots = LotBody(many=True, required=False)
    rejected = Cases(required=False)
    reject_reason = Words(200, required=False)
    brings_again = Cases(required=False, help_text="Of the rejected.")
    rest = serializers.ChoiceField([rest.value for rest in dock.Rest], required=False)
    substitute = SubstituteBody(required=False)
    temperature = TemperatureBody(required=False)
    judged = serializers.ChoiceField([judged.value for judged in Judged], required=False)
    thawed = Flag(required=False, help_text="Frozen food that was not frozen any more.")


class ReceiveBody(serializers.Serializer[Any]):
    happened_at = Moment(help_text="By the device's clock.")
    document = Words(80, required=False, help_text="Number of the delivery note.")
    override = Words(200, required=False, help_text="Why a manager takes it in all the same.")
    cautions_seen = Flag(required=False)
    lines = CameBody(many=True)


class Receive(LinesAct):
    """Take in what came of an order; every open line is told. Published limits stand behind
    the refusals: local code and the licensed person in charge decide."""

    operation, tag = "delivery_receive", "deliveries"
    status = 201
    # `expected` of each line says what was seen.
    needs_version = has_version = False
    body_class, answer_class = ReceiveBody, ReceiptRow

    def done(self, body: Body, **named: str) -> Receipt:
        rows = body["lines"]
        lines = self.lines_of(named["number"], rows)
        delivery = dock.Delivery(
            [self._came(lines[index].pk, row, index) for index, row in enumerate(rows)],
            document=body.get("document", ""),
            override=body.get("override", ""),
            seen=body.get("cautions_seen", False),
        )
        receipt = receive(
            named["number"], delivery, happened_at=body["happened_at"], hand=self.hand
        )
        return only(seen.receipts(self.viewer), pk=receipt.pk)

    def _came(self, line_id: int, row: Body, index: int) -> dock.CameLine:
        reading = row.get("temperature")
        return dock.CameLine(
            line_id,
            row["expected"],
            [_lot(lot) for lot in row.get("lots", ())],
            rejected=row.get("rejected", Decimal(0)),
            reject_reason=row.get("reject_reason", ""),
            brings_again=row.get("brings_again", Decimal(0)),
            rest=dock.Rest(row.get("rest", dock.Rest.FOLLOWS)),
            substitute=self._substitute(row.get("substitute"), f"lines.{index}.substitute.item"),
            reading=Reading(reading["degrees"], reading["unit"]) if reading else None,
            judged=Judged(row["judged"]) if "judged" in row else None,
            thawed=row.get("thawed"),
        )

    def _substitute(self, said: Body | None, field: str) -> dock.Substitute | None:
        if said is None:
            return None
        facts = {**said, "item": _item(self, said["item"], field)}
        return dock.Substitute(**facts)

    def field(self, name: str) -> str:
        found = re.fullmatch(r"l([0-9]+)-([a-z_]+)", name)
        if found is None:
            return super().field(name)
        index = getattr(self, "_places", {}).get(int(found[1]))
        inside = _RECEIVE_FIELDS.get(found[2], found[2])
        return name if index is None else f"lines.{index}.{inside}".rstrip(".")


# What receiving calls an input of a line: where it is in the body.
_RECEIVE_FIELDS = {
    "how": "",
    "accepted": "lots",
    "lot": "lots",
    "use_by": "lots",
    "weights": "lots",
    "reason": "reject_reason",
    "again": "brings_again",
    "degrees": "temperature",
}


def _lot(row: Body) -> dock.CameLot:
    return dock.CameLot(**{**row, "weights": tuple(row.get("weights", ()))})


def _item(view: base.Doing, code: str, field: str) -> Item:
    found = items(view.viewer).filter(code=code, retired_on__isnull=True).first()
    if found is None:
        raise Refused(Problem("no_such_item", f"There is no item '{code}'.", field))
    return found


class BoughtRow(serializers.Serializer[Any]):
    item = Words(40, code=f"^{CODE}$")
    qty = Amount()
    unit = Words(20)
    price = Figure(digits=6, places=2, required=False, help_text="Of all of it.")
    use_by = Day(required=False)
    supplier_lot = Words(40, required=False)


class BoughtBody(serializers.Serializer[Any]):
    shop = Words(200, help_text="And where it is.")
    location = Words(40, code=f"^{CODE}$")
    happened_at = Moment()
    document = Words(80, required=False)
    lines = BoughtRow(many=True, allow_empty=False)


class Buy(OrderAct):
    """A shop receipt becomes lots, without an order."""

    operation, tag = "buy", "deliveries"
    status = 201
    needs_version = has_version = False
    body_class, answer_class = BoughtBody, ReceiptRow

    def done(self, body: Body) -> Receipt:
        lines = [
            bought.Bought(
                row=index,
                item=_item(self, row["item"], f"lines.{index}.item"),
                qty=row["qty"],
                unit=row["unit"],
                price=row.get("price"),
                use_by=row.get("use_by"),
                supplier_lot=row.get("supplier_lot", ""),
            )
            for index, row in enumerate(body["lines"])
        ]
        receipt = bought.buy(
            body["shop"],
            lines,
            self.place_named(body["location"]),
            happened_at=body["happened_at"],
            hand=self.hand,
            document=body.get("document", ""),
        )
        return only(seen.receipts(self.viewer), pk=receipt.pk)

    def field(self, name: str) -> str:
        found = re.fullmatch(r"b([0-9]+)-([a-z_]+)", name)
        return f"lines.{found[1]}.{found[2]}" if found else name


class UndoBody(serializers.Serializer[Any]):
    why = Words(200)


class UndoReceipt(OrderAct):
    """Take a receipt back as a whole, the same day, if nothing of it was used."""

    operation, tag = "receipt_undo", "deliveries"
    needs_version = has_version = False
    body_class, answer_class = UndoBody, ReceiptRow

    def done(self, body: Mapping[str, Any], receipt: str) -> Receipt:
        undo_receipt(int(receipt), why=body["why"], hand=self.hand)
        return only(seen.receipts(self.viewer), pk=int(receipt))
