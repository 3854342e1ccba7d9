"""Items with their units, allergens and costs. They know no moment of change; the events do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.rows import ItemRow
from inventory.engine.allergens import Word
from inventory.models import Item
from inventory.selectors import seen
from inventory.selectors.allergens import item_allergens
from inventory.selectors.item_facts import digest_of, item_facts


class Items(base.Listing):
    """Every item, retired ones included. Rows know no moment of change; the events do."""

    operation, tag, key = "items", "items", "code"
    row_class = ItemRow

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Item]:
        return seen.items(self.viewer)


class OneItemRow(ItemRow):
    version = serializers.SerializerMethodField(help_text="Also the ETag.")

    def get_version(self, item: Item) -> str:
        return digest_of(item_facts(item))


class OneItem(base.Seen):
    """One item, with the version that a change names."""

    operation, tag = "item", "items"
    row_class = OneItemRow
    has_version = True

    def seen(self, code: str) -> Item:
        return seen.only(seen.items(self.viewer), code=code)


class AllergenWord(serializers.Serializer[Any]):
    allergen = serializers.CharField()
    word = serializers.ChoiceField([word.value for word in Word])


class AllergenCard(serializers.Serializer[Any]):
    item = serializers.CharField()
    allergens = AllergenWord(many=True)


class Allergens(base.Seen):
    """The most cautious word over all that the item is made of. What nobody stated is
    `not_stated`, never `free`. Local code and the licensed person in charge decide."""

    operation, tag = "item_allergens", "items"
    row_class = AllergenCard

    def seen(self, code: str) -> dict[str, Any]:
        item = seen.only(seen.items(self.viewer), code=code)
        return {"item": code, "allergens": item_allergens([item.code])[item.code]}
