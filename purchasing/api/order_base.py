"""What acts on one order share: who has it in hand, on which version, and the answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import serializers

from inventory.api import base
from inventory.api.fields import Words
from inventory.models import Location
from inventory.problems import Problem, Refused
from inventory.selectors.seen import locations, only
from purchasing.api.rows import OrderRow
from purchasing.models import PurchaseOrder
from purchasing.selectors import seen
from purchasing.services.order_hand import Hand
from purchasing.services.order_lines import LONGEST_WHY

Body = Mapping[str, Any]


class Why(serializers.Serializer[Any]):
    why = Words(LONGEST_WHY, required=False, help_text="A word why, for later.")


class OrderAct(base.Doing):
    """Answers the order as it is then, its new version as the ``ETag``."""

    tag = "orders"
    needs_version = True
    has_version = True
    answer_class: ClassVar[type[serializers.Serializer[Any]]] = OrderRow

    @property
    def hand(self) -> Hand:
        if self.needs_version and not self.version.isdecimal():
            message = "The version of an order is a number, as its ETag said it."
            raise Refused(Problem("stale", message, base.IF_MATCH))
        version = int(self.version) if self.version else None
        return Hand(self.viewer, self.user, self.at, version, self.viewer.device)

    def act_on(self, number: str, body: Body) -> None:
        """Call the service."""
        raise NotImplementedError

    def done(self, *body: Any, **named: Any) -> Any:
        self.act_on(named["number"], *body)
        return self.order(named["number"])

    def order(self, number: str) -> PurchaseOrder:
        return only(seen.orders(self.viewer), number=number)

    def place_named(self, code: str, field: str = "location") -> Location:
        """Of a body: what the viewer does not see is not known."""
        found = locations(self.viewer).filter(code=code).first()
        if found is None:
            raise Refused(Problem("no_such_location", f"There is no location '{code}'.", field))
        return found
