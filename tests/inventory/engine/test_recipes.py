"""Recipes: levels, cycles, explosion, yields, cost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.recipes import (
    as_purchased,
    explode,
    find_cycle,
    low_level_codes,
    unit_costs,
)
from inventory.problems import Refused
from tests.inventory.engine.small_kitchens import recipe

SOUP = {
    one.makes: one
    for one in (
        recipe("BOWL", 1, {"SOUP": 300, "BREAD": 1, "LEEK": 20}),
        recipe("SOUP", 10_000, {"STOCK": 8_000, "LEEK": 2_500}),
        recipe("STOCK", 5_000, {"BONES": 2_000, "LEEK": 500}),
    )
}


def test_an_items_level_is_the_deepest_it_stands_at() -> None:
    """inventory-theory.md, section 9: low-level-code order."""
    assert low_level_codes(SOUP) == {
        "BOWL": 0,
        "SOUP": 1,
        "BREAD": 1,
        "STOCK": 2,
        "LEEK": 3,
        "BONES": 3,
    }


def test_explosion_adds_what_comes_by_several_ways() -> None:
    drawn = explode(SOUP, "BOWL", 10)
    # 3,000 of soup: 2,400 of stock, so 240 and 750 of leeks, beside 200 on top
    assert drawn == pytest.approx({"BREAD": 10, "LEEK": 1_190, "BONES": 960})


def test_only_the_recipes_asked_for_are_opened_up() -> None:
    assert explode(SOUP, "BOWL", 10, opened=frozenset({"BOWL"})) == pytest.approx(
        {"SOUP": 3_000, "BREAD": 10, "LEEK": 200}
    )


def test_many_ways_to_one_item_are_not_walked_one_by_one() -> None:
    """60 levels of two recipes that each take a quarter of both below: 2 to the 60th ways."""
    tower = {
        f"{side}{level}": recipe(f"{side}{level}", 4, {f"A{level + 1}": 1, f"B{level + 1}": 1})
        for level in range(60)
        for side in "AB"
    }
    assert explode(tower, "A0", 2.0**61) == {"A60": 1.0, "B60": 1.0}


@given(st.floats(0, 1e6), st.floats(0, 1e6))
def test_explosion_is_linear(one: float, other: float) -> None:
    """inventory-theory.md, section 12."""
    apart = [explode(SOUP, "BOWL", qty) for qty in (one, other)]
    together = {item: sum(part[item] for part in apart) for item in apart[0]}
    assert explode(SOUP, "BOWL", one + other) == pytest.approx(together)


@pytest.mark.parametrize(
    ("uses", "cycle"),
    [
        ({"B": ["C"], "C": ["A"], "A": ["B"]}, ["A", "B", "C"]),
        ({"A": ["A"]}, ["A"]),
        ({"A": ["B", "C"], "B": ["D"], "C": ["D"]}, []),
        ({"Z": ["Y"], "Y": ["X"], "X": ["Y"]}, ["X", "Y"]),
        ({}, []),
    ],
    ids=["three in a ring", "itself", "two ways to one", "beside the ring", "nothing"],
)
def test_a_cycle_is_given_in_order_from_its_smallest_code(
    uses: dict[str, list[str]], cycle: list[str]
) -> None:
    assert find_cycle(uses) == cycle


def test_a_long_chain_is_no_cycle() -> None:
    """No recursion limit and no quadratic time: 20,000 levels."""
    chain = {f"I{number:05}": [f"I{number + 1:05}"] for number in range(20_000)}
    assert find_cycle(chain) == []


def test_a_cycle_is_refused_by_name() -> None:
    ring = {one.makes: one for one in (recipe("A", 1, {"B": 1}), recipe("B", 1, {"A": 1}))}
    with pytest.raises(Refused, match="A needs B needs A"):
        low_level_codes(ring)


@pytest.mark.parametrize("yield_pct", ["0", "-5"])
def test_a_yield_that_leaves_nothing_is_refused(yield_pct: str) -> None:
    with pytest.raises(Refused, match="usable share"):
        as_purchased(Fraction(1), Decimal(yield_pct))


def test_no_yield_is_all_of_it() -> None:
    assert as_purchased(Fraction(7), None) == 7


def test_a_cost_that_is_not_known_is_not_known_further_up() -> None:
    costs = unit_costs(SOUP, {"BONES": 0.002, "LEEK": 0.004})
    assert costs["STOCK"] == pytest.approx((2_000 * 0.002 + 500 * 0.004) / 5_000)
    assert costs["SOUP"] is not None
    assert costs["BOWL"] is None, "nobody knows what the bread costs"
