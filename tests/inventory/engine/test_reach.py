"""How far ahead of a need its first step may lie (rules R12.7)."""

from __future__ import annotations

from inventory.engine.kitchen import Item
from inventory.engine.reach import longest_chain_days
from tests.inventory.engine.small_kitchens import kitchen, place, recipe

BARLEY = Item("BARLEY", "ingredient", "g")
MALT = Item("MALT", "prep", "g")


def test_without_recipes_it_is_the_evening_before() -> None:
    assert longest_chain_days(kitchen([place("COM")], [BARLEY], [])) == 1


def test_each_level_adds_its_hours_and_a_night() -> None:
    beer = Item("BEER", "prep", "ml")
    chain = [recipe("BEER", 1, {"MALT": 1}, lead_hours=24), recipe("MALT", 1, {"BARLEY": 1})]
    known = kitchen([place("COM")], [beer, MALT, BARLEY], chain)
    assert longest_chain_days(known) == 1 + (1 + 1) + (0 + 1)


def test_the_longest_row_of_closing_days_counts_at_every_level() -> None:
    shut = place("COM", closed=("03-01", "03-05", "03-06"))
    known = kitchen([shut], [MALT, BARLEY], [recipe("MALT", 1, {"BARLEY": 1}, batch_minutes=60)])
    assert longest_chain_days(known) == 1 + 2 + (1 + 1 + 2)


def test_thawing_counts() -> None:
    frozen = Item("PEAS", "ingredient", "g", stored_frozen=True, thaw_hours=36)
    assert longest_chain_days(kitchen([place("COM")], [frozen], [])) == 1 + (2 + 1)
