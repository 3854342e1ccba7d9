"""Drafts in a buyer's hands: lines named by item and SKU, changed, added, exchanged."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from rest_framework import serializers

from inventory.api.codes import CODE
from inventory.api.fields import Whole, Words
from inventory.problems import Problem, Refused
from inventory.selectors.seen import only
from purchasing.api.order_base import Body, OrderAct, Why
from purchasing.models import Offer, OrderLine, PurchaseOrder
from purchasing.selectors import seen
from purchasing.services import order_lines
from purchasing.services.extra_lines import order_anyway
from purchasing.services.order_lines import MOST_CASES, NewCases

_OF_A_LINE = re.compile(r"([a-z]+)-([0-9]+)")


class LineName(serializers.Serializer[Any]):
    """A line by what it orders."""

    item = Words(40, code=f"^{CODE}$")
    sku = Words(40, allow_blank=True, required=False, help_text="Empty: the offer has none.")


class LinesAct(OrderAct):
    """Lines are told apart by item and SKU; services know them by their own numbers."""

    # The service's words for inputs of a line: the body's.
    inputs: Mapping[str, str] = {"cases": "cases"}

    def lines_of(self, number: str, named: Sequence[Body]) -> list[OrderLine]:
        """The line of each row of the body, in its order. Refused with all that are unknown."""
        order = only(seen.orders(self.viewer), number=number)
        known = {(line.item.code, line.offer.sku): line for line in order.lines.all()}
        keys = [(row["item"], row.get("sku", "")) for row in named]
        problems = [
            _no_such_line(order, key, index) for index, key in enumerate(keys) if key not in known
        ]
        problems += [
            Problem("line_twice", f"{key[0]} {key[1]} is named twice.", f"lines.{index}")
            for index, key in enumerate(keys)
            if key in keys[:index]
        ]
        if problems:
            raise Refused(problems)
        lines = [known[key] for key in keys]
        self._places = {line.pk: index for index, line in enumerate(lines)}
        return lines

    def field(self, name: str) -> str:
        found = _OF_A_LINE.fullmatch(name)
        index = getattr(self, "_places", {}).get(int(found[2])) if found else None
        if found is None or index is None:
            return name
        return f"lines.{index}.{self.inputs.get(found[1], found[1])}"


def _no_such_line(order: PurchaseOrder, key: tuple[str, str], index: int) -> Problem:
    name = " ".join(part for part in key if part)
    message = f"{order.number} has no line of {name}. Read the order again, or add a line."
    return Problem("no_such_line", message, f"lines.{index}")


class CasesRow(LineName):
    cases = Whole(most=MOST_CASES)
    why = Words(order_lines.LONGEST_WHY, required=False)


class ChangeLinesBody(serializers.Serializer[Any]):
    lines = CasesRow(many=True, allow_empty=False)


class ChangeLines(LinesAct):
    """Set the cases of lines; 0 takes a line off. What would be ordered stays beside them."""

    operation = "order_change_lines"
    body_class = ChangeLinesBody

    def act_on(self, number: str, body: Body) -> None:
        rows = body["lines"]
        lines = self.lines_of(number, rows)
        wanted = [
            NewCases(line.pk, row["cases"], row.get("why", ""))
            for line, row in zip(lines, rows, strict=True)
        ]
        order_lines.change_lines(number, wanted, hand=self.hand)


class AddLineBody(LineName, Why):
    cases = Whole(most=MOST_CASES, least=1)


class AddLine(OrderAct):
    """An offer of the same supplier that is not on the order yet."""

    operation = "order_add_line"
    body_class = AddLineBody

    def act_on(self, number: str, body: Body) -> None:
        order = only(seen.orders(self.viewer), number=number)
        offer = offer_named(order.supplier.code, body)
        order_lines.add_line(
            number, offer.pk, body["cases"], why=body.get("why", ""), hand=self.hand
        )

    def field(self, name: str) -> str:
        return {"add-cases": "cases", "offer": "sku"}.get(name, name)


class OtherOfferBody(LineName):
    other_sku = Words(40, allow_blank=True, help_text="Of the same supplier and item.")


class OtherOffer(LinesAct):
    """The same item in another pack: the fewest cases that hold as much."""

    operation = "order_other_offer"
    body_class = OtherOfferBody

    def act_on(self, number: str, body: Body) -> None:
        (line,) = self.lines_of(number, [body])
        order = only(seen.orders(self.viewer), number=number)
        offer = offer_named(order.supplier.code, {**body, "sku": body["other_sku"]}, "other_sku")
        order_lines.other_offer(number, line.pk, offer.pk, hand=self.hand)

    def field(self, name: str) -> str:
        return "other_sku" if name.startswith("offer") else name.removeprefix("lines.0.")


class OrderAnywayBody(AddLineBody):
    supplier = Words(40, code=f"^{CODE}$")
    location = Words(40, code=f"^{CODE}$")


class OrderAnyway(OrderAct):
    """A line that no run asked for, on the draft for the supplier's next delivery."""

    operation = "order_anyway"
    status = 201
    needs_version = False
    body_class = OrderAnywayBody

    def done(self, body: Body) -> PurchaseOrder:
        location = self.place_named(body["location"])
        offer = offer_named(body["supplier"], body)
        line = order_anyway(
            offer.pk, location, body["cases"], why=body.get("why", ""), hand=self.hand
        )
        return self.order(line.order.number)

    def field(self, name: str) -> str:
        return {"add-cases": "cases", "offer": "sku"}.get(name, name)


def offer_named(supplier: str, body: Body, field: str = "sku") -> Offer:
    offers = Offer.objects.filter(retired_on__isnull=True, supplier__code=supplier)
    found = offers.filter(item__code=body["item"], sku=body.get("sku", "")).first()
    if found is None:
        name = " ".join(part for part in (body["item"], body.get("sku", "")) if part)
        message = f"{supplier} does not sell {name}. Look at its offers."
        raise Refused(Problem("not_their_offer", message, field))
    return found
