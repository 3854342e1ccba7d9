"""Items added and changed, as a whole: what is left out is blank afterwards."""

from __future__ import annotations

import re
from typing import Any

from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Figure, Flag, Whole, Words
from inventory.api.items import OneItemRow
from inventory.models import AllergenWord, Item
from inventory.selectors.item_facts import as_word
from inventory.selectors.seen import items, only
from purchasing.api.order_base import Body
from purchasing.services.items import TypedItem, add_item, change_item

_COLUMN_OF = {"contains": "allergens", "may": "allergens_may", "free": "allergens_free"}
_UNIT_INPUTS = {"unit": "word", "qty": "qty", "of_unit": "of_unit"}
_OF_A_UNIT = re.compile(r"(unit|qty|of_unit)-([0-9]+)")
_MOST_DAYS = 36_500


class StatedBody(serializers.Serializer[Any]):
    allergen = Words(40, code=r"^[A-Za-z][A-Za-z ]{0,39}$")
    says = serializers.ChoiceField(AllergenWord.Says.choices)


class UnitBody(serializers.Serializer[Any]):
    word = Words(20)
    qty = Figure(above_zero=True, digits=6, places=6)
    of_unit = Words(20)


class ItemBody(serializers.Serializer[Any]):
    """The columns of the workbook's items sheet."""

    name = Words(120)
    kind = serializers.ChoiceField(Item.Kind.choices)
    unit = Words(10)
    storage = serializers.ChoiceField(Item.Storage.choices, required=False)
    shelf_life_days = Whole(most=_MOST_DAYS, required=False)
    shelf_life_opened_days = Whole(most=_MOST_DAYS, required=False)
    shelf_life_thawed_days = Whole(most=_MOST_DAYS, required=False)
    thaw_hours = Figure(digits=4, places=2, required=False)
    may_freeze = Flag(required=False)
    grams_per_ml = Figure(above_zero=True, digits=4, places=6, required=False)
    grams_per_each = Figure(above_zero=True, digits=6, places=6, required=False)
    tcs = Flag(required=False)
    ready_to_eat = Flag(required=False)
    traceability_listed = Flag(required=False)
    sale_price = Figure(digits=6, places=2, required=False)
    on_return = serializers.ChoiceField(Item.OnReturn.choices, required=False)
    use_per = serializers.ChoiceField(Item.UsePer.choices, required=False)
    can_be_left_off = Flag(required=False)
    litres_per_unit = Figure(digits=6, places=6, required=False)
    walk_order = Whole(required=False)
    allergens = StatedBody(many=True, required=False)
    units = UnitBody(many=True, required=False)


class NewItemBody(ItemBody):
    code = Words(40, code=f"^{CODE}$")


class _ItemAct(base.Doing):
    tag = "items"
    has_version = True
    answer_class = OneItemRow

    def item(self, code: str) -> Item:
        return only(items(self.viewer), code=code)

    def field(self, name: str) -> str:
        found = _OF_A_UNIT.fullmatch(name)
        return f"units.{found[2]}.{_UNIT_INPUTS[found[1]]}" if found else name


def _typed(body: Body) -> TypedItem:
    rows = {"allergens", "units"}
    facts = {name: as_word(value) for name, value in body.items() if name not in rows}
    for says, column in _COLUMN_OF.items():
        said = [row["allergen"] for row in body.get("allergens", ()) if row["says"] == says]
        facts[column] = ";".join(said)
    units = [
        (index, {column: as_word(row[name]) for column, name in _UNIT_INPUTS.items()})
        for index, row in enumerate(body.get("units", ()))
    ]
    return TypedItem(facts, units)


class AddItem(_ItemAct):
    """A new item, under the workbook's own rules."""

    operation = "item_add"
    status = 201
    body_class = NewItemBody

    def done(self, body: Body) -> Item:
        add_item(_typed(body), viewer=self.viewer, by=self.user, at=self.at)
        return self.item(body["code"])


class ChangeItem(_ItemAct):
    """An item as it is from now on."""

    operation = "item_change"
    needs_version = True
    body_class = ItemBody

    def done(self, body: Body, code: str) -> Item:
        typed = _typed({**body, "code": code})
        change_item(code, typed, as_read=self.version, viewer=self.viewer, by=self.user, at=self.at)
        return self.item(code)
