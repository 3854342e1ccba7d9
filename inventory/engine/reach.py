"""How far ahead of a need its first step may lie (R12.7)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from math import ceil

from inventory.engine.kitchen import Item, Kitchen

DAY_HOURS = 24


def longest_chain_days(kitchen: Kitchen) -> int:
    """Days by which the first batch for a need may start before it, at one batch a level.

    So much farther than the last day needed must usage without stops be known: what is sold
    then may be begun by then. Each level counts its hours in whole days, the night before,
    and the longest row of closing days of any place.
    """
    shut = max((_longest_row(place.closed_on) for place in kitchen.places.values()), default=0)
    known: dict[str, int] = {}

    def days(item: str) -> int:
        if item not in known:
            recipe = kitchen.recipes.get(item)
            own = _thawing(kitchen.items[item])
            if recipe is not None:
                own += recipe.lead_hours + recipe.batch_minutes / 60
                below = max((days(line.item) for line in recipe.lines), default=0)
                known[item] = ceil(own / DAY_HOURS) + 1 + shut + below
            else:
                known[item] = ceil(own / DAY_HOURS) + (1 + shut if own else 0)
        return known[item]

    return 1 + shut + max((days(item) for item in kitchen.items), default=0)


def _thawing(item: Item) -> float:
    return (item.thaw_hours or 0.0) if item.stored_frozen else 0.0


def _longest_row(days: Iterable[date]) -> int:
    longest = length = 0
    before: date | None = None
    for day in sorted(days):
        length = length + 1 if before == day - timedelta(days=1) else 1
        longest, before = max(longest, length), day
    return longest
