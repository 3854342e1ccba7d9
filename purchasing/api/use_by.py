"""The use-by board as it was last worked out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.api.asked import AtPlace
from inventory.selectors.seen import at_place
from purchasing.api.rows import LotAtRiskRow
from purchasing.models import LotRisk
from purchasing.selectors import seen


class UseByBoard(base.Listing):
    """Lots by money at risk. Worked out anew meanwhile, the list begins again. Local code and
    the licensed person in charge decide what may be served."""

    operation, tag = "use_by_board", "lots"
    row_class = LotAtRiskRow
    asked_class = AtPlace

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[LotRisk]:
        return at_place(seen.lots_at_risk(self.viewer), self.viewer, asked.get("location"))
