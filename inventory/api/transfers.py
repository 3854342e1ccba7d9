"""Goods between places: load-outs, returns, hand-overs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.asked import ChangedSince
from inventory.api.codes import STRIP
from inventory.api.fields import Figure, Words
from inventory.api.rows import TransferRow
from inventory.models import Transfer
from inventory.selectors import seen
from inventory.services.lot_acts import take_in


class Transfers(base.Listing):
    """What left or reached the places of whoever asks."""

    operation, tag, key = "transfers", "transfers", "number"
    row_class = TransferRow
    asked_class = ChangedSince

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Transfer]:
        rows = seen.transfers(self.viewer)
        since = asked.get("changed_since")
        return rows if since is None else seen.transfers_changed_since(rows, since)


class OneTransfer(base.Seen):
    """One of them, with its lines."""

    operation, tag = "transfer", "transfers"
    row_class = TransferRow

    def seen(self, number: str) -> Transfer:
        return seen.only(seen.transfers(self.viewer), number=number)


class ArrivedLot(serializers.Serializer[Any]):
    lot = Words(5, code=f"^{STRIP}$")
    qty = Figure(digits=9, help_text="Base units, as `sent` is.")


class ArriveBody(serializers.Serializer[Any]):
    arrived = ArrivedLot(
        many=True, allow_null=True, help_text="null: all that was sent. Lots left out are missing."
    )


class Arrive(base.Doing):
    """Goods on their way are here."""

    operation, tag = "transfer_arrived", "transfers"
    body_class, answer_class = ArriveBody, TransferRow

    def done(self, body: Mapping[str, Any], number: str) -> Transfer:
        named = body["arrived"]
        arrived = None if named is None else {one["lot"]: one["qty"] for one in named}
        take_in(self.viewer, number, arrived=arrived, by=self.user, at=self.at)
        return seen.only(seen.transfers(self.viewer), number=number)
