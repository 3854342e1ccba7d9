"""Which units of an item rows are written in: what a change of a unit would touch."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Model, QuerySet

from inventory.models import Booking, Item, ItemUnit, Recipe, RecipeLine, Usage


@dataclass(frozen=True, slots=True)
class UnitUse:
    """So many ``rows`` of a kind (``what``: its word for one) are written in ``unit``."""

    unit: str
    rows: int
    what: str

    @property
    def words(self) -> str:
        return f"{self.rows} {self.what}{'' if self.rows == 1 else 's'}"


def uses_in(rows: QuerySet[Model], column: str, what: str) -> list[UnitUse]:
    """One query."""
    counted = rows.order_by().values_list(column).annotate(rows=Count("pk"))
    return [UnitUse(unit, count, what) for unit, count in counted if unit]


def kitchen_uses(item: Item) -> list[UnitUse]:
    """Recipes, bookings and usage written in a unit of the item; six queries."""
    recipes = Recipe.objects.filter(item=item)
    return [
        *uses_in(RecipeLine.objects.filter(item=item), "unit", "recipe line"),
        *uses_in(recipes, "makes_unit", "recipe"),
        *uses_in(recipes, "batch_unit", "batch limit"),
        *uses_in(Booking.objects.filter(item=item), "unit", "booking"),
        *uses_in(Usage.objects.filter(item=item), "unit", "past usage row"),
        *uses_in(ItemUnit.objects.filter(item=item), "of_unit", "unit of its own"),
    ]


def joined(words: list[str]) -> str:
    """``2 pars, 1 offer and 3 recipe lines``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
