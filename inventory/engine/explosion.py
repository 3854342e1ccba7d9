"""What a dish or a batch takes, down to what trucks carry: prep items and goods (R12.1)."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from inventory.engine.kitchen import Kitchen, Recipe


@dataclass(frozen=True, slots=True)
class Explosion:
    """Quantities are base units drawn (qty / yield) per base unit made or sold."""

    kitchen: Kitchen
    _known: dict[str, dict[str, float]] = field(default_factory=dict)

    def carried(self, item: str) -> dict[str, float]:
        """Menu items open up, line by line; prep items and goods are what they are."""
        if item not in self._known:
            recipe = self.kitchen.recipes.get(item)
            is_dish = recipe is not None and self.kitchen.items[item].kind == "menu"
            self._known[item] = self.inputs(recipe) if recipe and is_dish else {item: 1.0}
        return self._known[item]

    def inputs(self, recipe: Recipe) -> dict[str, float]:
        """What one base unit of what ``recipe`` makes takes."""
        taken: dict[str, float] = defaultdict(float)
        for line in sorted(recipe.lines, key=lambda line: (line.item, line.drawn)):
            for item, qty in self.carried(line.item).items():
                taken[item] += qty * line.drawn / recipe.quantity
        return dict(taken)
