"""The use-by board as it was last worked out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.asked import AtPlace
from inventory.api.fields import Nothing
from inventory.selectors.seen import at_place
from purchasing.api.rows import LotAtRiskRow
from purchasing.models import LotRisk
from purchasing.selectors import seen
from purchasing.services.use_by_looks import ask_for_look


class UseByBoard(base.Listing):
    """Lots by money at risk. Worked out anew meanwhile, the list begins again. Local code and
    the licensed person in charge decide what may be served."""

    operation, tag = "use_by_board", "lots"
    row_class = LotAtRiskRow
    asked_class = AtPlace

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[LotRisk]:
        return at_place(seen.lots_at_risk(self.viewer), self.viewer, asked.get("location"))


class AskedRow(serializers.Serializer[Any]):
    asked_at = serializers.DateTimeField()


class AskForLook(base.Doing):
    """Work the board out again soon; asking twice before then is asking once."""

    operation, tag = "use_by_look", "lots"
    status = 202
    body_class, answer_class = Nothing, AskedRow

    def done(self, body: Mapping[str, Any]) -> dict[str, datetime]:
        ask_for_look(at=self.at)
        return {"asked_at": self.at}
