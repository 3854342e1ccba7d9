"""What dishes and batches take (rules R12.1; inventory-theory.md section 9)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.explosion import Explosion
from inventory.engine.kitchen import Item
from tests.inventory.engine.small_kitchens import kitchen, recipe

ITEMS = [
    Item("PLATE", "menu", "each"),
    Item("SIDE", "menu", "each"),
    Item("MASH", "prep", "g"),
    Item("SWEDE", "ingredient", "g"),
]
RECIPES = [
    recipe("PLATE", 2, {"SIDE": 2, "MASH": 400, "SWEDE": 50}),
    recipe("SIDE", 1, {"MASH": 100, "SWEDE": 10}),
    recipe("MASH", 1000, {"SWEDE": 1250}),
]
EXPLOSION = Explosion.of(kitchen([], ITEMS, RECIPES))


def test_a_dish_opens_up_to_prep_items_and_goods_only() -> None:
    assert EXPLOSION.carried("PLATE") == {"MASH": 300.0, "SWEDE": 35.0}


def test_prep_items_and_goods_stay_what_they_are() -> None:
    assert EXPLOSION.carried("MASH") == {"MASH": 1.0}
    assert EXPLOSION.carried("SWEDE") == {"SWEDE": 1.0}


def test_a_batch_takes_its_lines_for_each_unit_made() -> None:
    assert EXPLOSION.inputs("MASH") == {"SWEDE": 1.25}


def test_lines_of_one_item_add_up() -> None:
    twice = recipe("SIDE", 1, {"SWEDE": 10})
    doubled = Explosion.of(kitchen([], ITEMS, [recipe("PLATE", 1, {"SIDE": 1, "SWEDE": 5}), twice]))
    assert doubled.carried("PLATE") == {"SWEDE": 15.0}


def test_mr_07_two_steps_of_yield() -> None:
    # Yields 0.9 and 0.8 in a row: 10 take 13.8888889.
    steps = [recipe("PLATE", 1, {"SIDE": 1 / 0.9}), recipe("SIDE", 1, {"SWEDE": 1 / 0.8})]
    taken = Explosion.of(kitchen([], ITEMS, steps)).carried("PLATE")
    assert 10 * taken["SWEDE"] == pytest.approx(13.8888889)


@given(st.floats(0.1, 1e6), st.floats(0.1, 1e6))
def test_writing_a_recipe_for_another_quantity_changes_nothing(lines: float, scale: float) -> None:
    plain = Explosion.of(kitchen([], ITEMS, [recipe("SIDE", 3, {"SWEDE": lines})]))
    scaled = Explosion.of(kitchen([], ITEMS, [recipe("SIDE", 3 * scale, {"SWEDE": lines * scale})]))
    assert plain.carried("SIDE") == pytest.approx(scaled.carried("SIDE"))
