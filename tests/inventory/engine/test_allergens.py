"""The most cautious word. AL-01 to AL-05: food-standards.md section 7."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.allergens import (
    EU14,
    US9,
    Card,
    Word,
    allergen_card,
    contained,
    most_cautious,
)

C, M, N, F = Word.CONTAINS, Word.MAY_CONTAIN, Word.NOT_STATED, Word.FREE


def all_free(*but: str, **words: Word) -> dict[str, Word]:
    """Everything stated: contains ``but``, free of the rest."""
    return {**dict.fromkeys(US9, F), **dict.fromkeys(but, C), **words}


def word_of(card: Card, allergen: str) -> Word:
    return next(said.word for said in card if said.allergen == allergen)


def test_al_01_flatbread_with_fresh_cheese_contains_wheat_and_milk() -> None:
    stated = {"FLATBREAD": all_free("wheat"), "CHEESE": all_free("milk")}
    card = allergen_card("DISH", stated, {"DISH": ["FLATBREAD", "CHEESE"]})
    assert contained(card) == {"wheat", "milk"}
    assert {said.word for said in card} == {C, F}


def test_al_02_allergens_of_what_is_made_first_pass_up() -> None:
    stated = {"HERBS": all_free(), "YOGURT": all_free("milk"), "FISH": all_free("fish")}
    made_of = {"DISH": ["RELISH", "SAUCE", "FISH"], "RELISH": ["HERBS"], "SAUCE": ["YOGURT"]}
    assert contained(allergen_card("DISH", stated, made_of)) == {"milk", "fish"}


def test_al_03_a_change_of_one_ingredient_reaches_every_dish_at_any_depth() -> None:
    made_of = {f"LEVEL{deep}": [f"LEVEL{deep + 1}"] for deep in range(60)}
    for base, expected in ((all_free(), set[str]()), (all_free("sesame"), {"sesame"})):
        for deep in range(60):
            card = allergen_card(f"LEVEL{deep}", {"LEVEL60": base}, made_of)
            assert contained(card) == expected


def test_al_04_oysters_count_on_the_list_of_the_eu_alone() -> None:
    oysters = {"OYSTER": all_free(molluscs=C)}
    of_us = contained(allergen_card("OYSTER", oysters, {}, US9)) & set(US9)
    assert of_us == set()
    assert contained(allergen_card("OYSTER", oysters, {}, EU14)) == {"molluscs"}


def test_what_is_stated_beyond_the_list_is_shown_all_the_same() -> None:
    card = allergen_card("OYSTER", {"OYSTER": all_free(molluscs=C)}, {}, US9)
    assert (card[-1].allergen, card[-1].word) == ("molluscs", C)


def test_al_05_never_entered_is_not_stated_and_never_free() -> None:
    card = allergen_card("DISH", {"HERBS": all_free()}, {"DISH": ["HERBS", "RELISH"]})
    assert {said.word for said in card} == {N}
    assert {said.not_stated_by for said in card} == {("RELISH",)}


def test_of_nothing_at_all_nothing_is_stated() -> None:
    assert {said.word for said in allergen_card("NOBODY", {}, {})} == {N}
    assert most_cautious([]) is N


@pytest.mark.parametrize(
    ("words", "whole"),
    [
        ([C, M, N, F], C),
        ([M, N, F], M),
        ([N, F, F], N),
        ([F, F], F),
    ],
)
def test_the_most_cautious_word_stands_for_the_whole(words: list[Word], whole: Word) -> None:
    assert most_cautious(words) is whole


def test_it_is_said_whose_word_it_is_and_what_nobody_stated() -> None:
    stated = {"BREAD": all_free("wheat"), "OIL": all_free(sesame=M)}
    card = allergen_card("DISH", stated, {"DISH": ["BREAD", "OIL", "MIX"]})
    wheat, sesame = (next(s for s in card if s.allergen == name) for name in ("wheat", "sesame"))
    assert (wheat.word, wheat.because, wheat.not_stated_by) == (C, ("BREAD",), ("MIX",))
    assert (sesame.word, sesame.because, sesame.not_stated_by) == (M, ("OIL",), ("MIX",))


def test_what_is_said_of_the_made_food_itself_only_adds_caution() -> None:
    stated = {"HERBS": all_free(), "RELISH": {"milk": F, "wheat": M, "eggs": C}}
    card = allergen_card("RELISH", stated, {"RELISH": ["HERBS"]})
    assert [word_of(card, name) for name in ("milk", "wheat", "eggs", "fish")] == [F, M, C, F]


@pytest.mark.parametrize(
    ("listed", "typed", "word", "name", "counts_as"),
    [
        pytest.param(US9, "Crustaceans", C, "crustacean shellfish", C, id="other list's name"),
        pytest.param(US9, "almonds", C, "tree nuts", C, id="a kind of the group"),
        pytest.param(US9, "almonds", F, "tree nuts", N, id="free of one kind is not free of all"),
        pytest.param(US9, "lactose", F, "milk", N, id="lactose-free milk is milk"),
        pytest.param(EU14, "wheat", C, "cereals containing gluten", C, id="wheat is a cereal"),
        pytest.param(EU14, "wheat", F, "cereals containing gluten", N, id="rye may be in it"),
        pytest.param(EU14, "gluten", F, "cereals containing gluten", F, id="free of the group"),
        pytest.param(US9, "Soya", M, "soybeans", M, id="another word for it"),
    ],
)
def test_words_people_type_count_under_the_lists_name(
    listed: tuple[str, ...], typed: str, word: Word, name: str, counts_as: Word
) -> None:
    assert word_of(allergen_card("X", {"X": {typed: word}}, {}, listed), name) is counts_as


FOODS = [f"F{number}" for number in range(6)]
some_words = st.dictionaries(st.sampled_from(US9), st.sampled_from([C, M, F]))


@given(st.dictionaries(st.sampled_from(FOODS), some_words), st.lists(st.sampled_from(FOODS)))
def test_a_dish_is_never_less_cautious_than_any_of_its_lines(
    stated: Mapping[str, Mapping[str, Word]], lines: list[str]
) -> None:
    dish = allergen_card("DISH", stated, {"DISH": lines})
    order = list(Word)
    for line in lines:
        for said in allergen_card(line, stated, {}):
            assert order.index(word_of(dish, said.allergen)) <= order.index(said.word)


@given(st.dictionaries(st.sampled_from(FOODS), some_words), st.lists(st.sampled_from(FOODS)))
def test_the_order_of_lines_changes_no_word(
    stated: Mapping[str, Mapping[str, Word]], lines: list[str]
) -> None:
    def words(order: list[str]) -> dict[str, Word]:
        return {s.allergen: s.word for s in allergen_card("DISH", stated, {"DISH": order})}

    assert words(lines) == words(lines[::-1])
