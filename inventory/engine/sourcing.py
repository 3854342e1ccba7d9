"""Where an item comes from at a place: made there, sent from elsewhere, or bought (R1, R12)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.engine.kitchen import Item, Kitchen
from inventory.problems import Problem, Refused


@dataclass(frozen=True, slots=True)
class Sourcing:
    """``overrides``: the supplying place that a par row names, by (place, item); it wins
    over the place's own."""

    kitchen: Kitchen
    overrides: Mapping[tuple[str, str], str]

    def is_made(self, item: str) -> bool:
        """Made in batches: it has a recipe and is not a dish, which is put together at the
        moment of sale and so explodes instead."""
        return item in self.kitchen.recipes and self.kitchen.items[item].kind != "menu"

    def source(self, place: str, item: str) -> str | None:
        """The place that sends ``item`` to ``place``; None where it is made or bought."""
        made_at = self.kitchen.recipes[item].made_at if self.is_made(item) else ""
        if place == made_at:
            return None
        by = self.overrides.get((place, item)) or self.kitchen.places[place].supplied_by
        if by is None and made_at in self.kitchen.places:
            by = made_at
        return None if by == place else by

    def way(self, place: str, item: str) -> tuple[str, ...]:
        """The places from ``place`` back to where ``item`` is made or bought, both in."""
        way = [place]
        while (source := self.source(way[-1], item)) is not None:
            if source in way:
                raise Refused(_goes_round(item, [*way, source]))
            way.append(source)
        return tuple(way)

    def origin(self, place: str, item: str) -> str:
        """Where ``item``, as used at ``place``, is made or bought."""
        return self.way(place, item)[-1]

    def farthest_first(self, item: str) -> list[str]:
        """All places, those with the longest way to ``item`` first."""
        return sorted(self.kitchen.places, key=lambda place: (-len(self.way(place, item)), place))

    def is_one_stock(self, item: str) -> bool:
        """Whether what places hold of ``item`` counts where it is bought (R12.8)."""
        known: Item = self.kitchen.items[item]
        return known.one_stock_everywhere and not self.is_made(item)


def _goes_round(item: str, way: list[str]) -> Problem:
    return Problem(
        "supply_goes_round",
        f"{item} goes round in a circle: {' is supplied by '.join(way)}. Leave supplied_by"
        " blank where it is bought.",
        field="supplied_by",
        data={"item": item, "places": tuple(way)},
    )
