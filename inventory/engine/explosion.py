"""What a dish or a batch takes, down to what trucks carry: prep items and goods (R12.1)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from inventory.engine.kitchen import Kitchen, Recipe
from inventory.engine.recipes import explode


@dataclass(frozen=True, slots=True)
class Explosion:
    """Quantities are base units drawn (qty / yield) per base unit made or sold."""

    recipes: Mapping[str, Recipe]
    dishes: frozenset[str]
    _known: dict[str, dict[str, float]] = field(default_factory=dict)

    @classmethod
    def of(cls, kitchen: Kitchen) -> Explosion:
        """Lines are taken in order of item, so that sums do not depend on that of rows."""
        recipes = {
            made: replace(
                recipe, lines=tuple(sorted(recipe.lines, key=lambda one: (one.item, one.drawn)))
            )
            for made, recipe in kitchen.recipes.items()
        }
        return cls(
            recipes, frozenset(made for made in recipes if kitchen.items[made].kind == "menu")
        )

    def carried(self, item: str) -> dict[str, float]:
        """Menu items open up, line by line; prep items and goods are what they are."""
        if item not in self._known:
            self._known[item] = explode(self.recipes, item, 1.0, opened=self.dishes)
        return self._known[item]

    def inputs(self, made: str) -> dict[str, float]:
        """What one base unit of a prep item takes."""
        return explode(self.recipes, made, 1.0, opened=self.dishes | {made})
