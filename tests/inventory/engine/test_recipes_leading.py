from __future__ import annotations

from inventory.engine.kitchen import Recipe, RecipeLine
from inventory.engine.recipes import leading_to


def recipe(makes: str, *items: str) -> Recipe:
    return Recipe(makes, "COM", 1.0, tuple(RecipeLine(item, 1.0) for item in items))


RECIPES = {
    one.makes: one
    for one in (
        recipe("STOCK", "LEEK", "SALT"),
        recipe("SOUP", "STOCK", "BARLEY"),
        recipe("BREAD", "FLOUR", "SALT"),
    )
}


def test_an_item_leads_to_whatever_it_goes_into_at_any_depth() -> None:
    assert leading_to(RECIPES, ["LEEK"]) == {"LEEK", "STOCK", "SOUP"}
    assert leading_to(RECIPES, ["SALT"]) == {"SALT", "STOCK", "SOUP", "BREAD"}
    assert leading_to(RECIPES, ["FLOUR", "BARLEY"]) == {"FLOUR", "BREAD", "BARLEY", "SOUP"}


def test_what_goes_into_nothing_leads_to_itself() -> None:
    assert leading_to(RECIPES, ["NAPKIN"]) == {"NAPKIN"}
    assert leading_to(RECIPES, []) == frozenset()
