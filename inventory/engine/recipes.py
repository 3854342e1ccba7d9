"""Recipes: levels and cycles, explosion, yields, plate cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction

from inventory.engine.kitchen import Recipe
from inventory.problems import Problem, Refused


def low_level_codes(recipes: Mapping[str, Recipe]) -> dict[str, int]:
    """The deepest level at which each item stands anywhere, menu items and other tops at 0.

    A cycle is refused by name: every item on it, in order.
    """
    uses = {made: tuple(line.item for line in recipe.lines) for made, recipe in recipes.items()}
    if cycle := find_cycle(uses):
        raise Refused(cycle_problem(cycle))
    depth: dict[str, int] = dict.fromkeys(uses, 0)
    for made in _parents_first(uses):
        for item in uses.get(made, ()):
            depth[item] = max(depth.get(item, 0), depth[made] + 1)
    return depth


def cycle_problem(cycle: list[str]) -> Problem:
    way = " needs ".join([*cycle, cycle[0]])
    return Problem(
        "recipe_cycle",
        f"{way}: a recipe cannot need itself. Take one of these lines out.",
        data={"items": cycle},
    )


def find_cycle(uses: Mapping[str, Iterable[str]]) -> list[str]:
    """The first cycle, from its smallest code on; empty if there is none."""
    done: set[str] = set()
    for start in sorted(uses):
        trail: dict[str, None] = {}  # in order, and quick to look in
        stack: list[tuple[str, bool]] = [(start, True)]
        while stack:
            item, enter = stack.pop()
            if not enter:
                done.add(trail.popitem()[0])
            elif item in trail:
                way = list(trail)
                return _from_smallest(way[way.index(item) :])
            elif item not in done:
                trail[item] = None
                stack.append((item, False))
                stack.extend((child, True) for child in sorted(uses.get(item, ()), reverse=True))
    return []


def _from_smallest(cycle: list[str]) -> list[str]:
    first = cycle.index(min(cycle))
    return cycle[first:] + cycle[:first]


def _parents_first(uses: Mapping[str, Iterable[str]]) -> list[str]:
    waiting: dict[str, int] = defaultdict(int)
    for children in uses.values():
        for child in children:
            waiting[child] += 1
    ready = sorted(made for made in uses if not waiting[made])
    ordered: list[str] = []
    while ready:
        made = ready.pop(0)
        ordered.append(made)
        for child in uses.get(made, ()):
            waiting[child] -= 1
            if not waiting[child] and child in uses:
                ready.append(child)
    return ordered


def as_purchased(edible: Fraction, yield_pct: Decimal | None) -> Fraction:
    """AP = EP / yield. A yield over 100 is a cooking gain; 0 or less is refused.

    Source of the rule: Bakery and Business Math, ch. 25 (open text).
    """
    if yield_pct is None:
        return edible
    if yield_pct <= 0:
        raise Refused(
            Problem(
                "yield_not_positive",
                f"A yield of {yield_pct} % leaves nothing to use. Type the usable share of what "
                "is bought, such as 90.",
                "yield_pct",
            )
        )
    return edible / (Fraction(yield_pct) / 100)


def explode(
    recipes: Mapping[str, Recipe], item: str, qty: float, *, opened: frozenset[str] | None = None
) -> dict[str, float]:
    """What ``qty`` of ``item`` takes of items that are not made, stock left aside.

    ``opened``: only these recipes are opened up (None: all of them). Each is opened once,
    after everything that takes of it, however many ways lead there.
    """
    drawn: dict[str, float] = defaultdict(float, {item: qty})
    for made in _parents_first(_reached(recipes, item, opened)):
        recipe = recipes[made]
        share = drawn.pop(made) / recipe.quantity
        for line in recipe.lines:
            drawn[line.item] += line.drawn * share
    return dict(drawn)


def _reached(
    recipes: Mapping[str, Recipe], item: str, opened: frozenset[str] | None
) -> dict[str, list[str]]:
    """The recipes to open up on the way down from ``item``: what each one takes."""
    uses: dict[str, list[str]] = {}
    left = [item]
    while left:
        made = left.pop()
        if made in uses or made not in recipes or not (opened is None or made in opened):
            continue
        uses[made] = [line.item for line in recipes[made].lines]
        left.extend(uses[made])
    return uses


def leading_to(recipes: Mapping[str, Recipe], items: Iterable[str]) -> frozenset[str]:
    """These items and whatever they go into, at any depth."""
    goes_into: dict[str, set[str]] = defaultdict(set)
    for made, recipe in recipes.items():
        for line in recipe.lines:
            goes_into[line.item].add(made)
    found: set[str] = set()
    left = set(items)
    while left:
        found |= left
        left = {made for item in left for made in goes_into[item]} - found
    return frozenset(found)


def unit_costs(
    recipes: Mapping[str, Recipe], bought: Mapping[str, float]
) -> dict[str, float | None]:
    """Cost per base unit of everything made, from what its lines cost; None: not known.

    A plate cost is the unit cost of a menu item. ``bought``: cost per base unit of what is
    bought. Source: standard portion cost = recipe cost / portions (HMD 329, ch. 7, open text).
    """
    costs: dict[str, float | None] = dict(bought)
    depth = low_level_codes(recipes)
    for made in sorted(recipes, key=lambda code: (-depth[code], code)):
        recipe = recipes[made]
        parts = [(costs.get(line.item), line.drawn) for line in recipe.lines]
        known = [cost * drawn for cost, drawn in parts if cost is not None]
        costs[made] = sum(known) / recipe.quantity if len(known) == len(parts) else None
    return costs
