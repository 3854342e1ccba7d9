"""Cards of items and lots, and the sentence of a label."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.engine.allergens import US9, Word, contained
from inventory.models import AllergenWord, Batch, BatchInput, Item, Lot, Recipe, RecipeLine, Setting
from inventory.selectors.allergens import item_allergens, lot_allergens, sentence
from inventory.services.lots import Change, Part, split_lot
from tests import factories as make
from tests.factories import NOW

pytestmark = pytest.mark.django_db


def food(*contains: str, stated: bool = True, **facts: str) -> Item:
    made = make.item(**facts)
    if stated:
        AllergenWord.objects.bulk_create(
            AllergenWord(item=made, allergen=name, says="contains" if name in contains else "free")
            for name in US9
        )
    return made


def recipe(made: Item, *lines: Item) -> Recipe:
    row = Recipe.objects.create(item=made, makes_qty=Decimal(1), makes_unit=made.unit)
    for position, line in enumerate(lines):
        RecipeLine.objects.create(recipe=row, item=line, position=position, qty=1, unit=line.unit)
    return row


def test_a_dish_takes_the_words_of_its_lines_and_packaging_has_none() -> None:
    dish, box = make.item(kind="menu"), make.item(kind="packaging")
    recipe(dish, food("wheat"), food("milk"), box)
    card = item_allergens([dish.code])[dish.code]
    assert contained(card) == {"wheat", "milk"}
    assert sentence(card) == "contains milk, wheat"


def test_the_house_chooses_the_list() -> None:
    bread = food("wheat")
    Setting.objects.create(key="allergen_list", value="eu14")
    assert contained(item_allergens([bread.code])[bread.code]) == {"cereals containing gluten"}


def test_nobody_said_anything_is_said_so() -> None:
    silent = food(stated=False)
    text = sentence(item_allergens([silent.code])[silent.code])
    assert text == "allergens not stated: ask before serving"


def test_free_of_everything_is_said_so() -> None:
    card = item_allergens([(herbs := food()).code])[herbs.code]
    assert sentence(card) == "stated free from all 9"


def test_what_may_be_in_it_and_what_is_not_stated() -> None:
    mix = make.item()
    AllergenWord.objects.create(item=mix, allergen="milk", says="contains")
    AllergenWord.objects.create(item=mix, allergen="sesame", says="may")
    text = sentence(item_allergens([mix.code])[mix.code])
    assert text.startswith("contains milk; may contain sesame; not stated: eggs, fish, ")


def batch_lot(made: Item, *inputs: Lot) -> Lot:
    place = make.location()
    lot = make.lot(100, at=place, of=made, origin="batch")
    batch = Batch.objects.create(
        recipe=made.recipe,
        location=place,
        started_at=NOW,
        finished_at=NOW,
        expected_qty=1,
        made_qty=1,
        lot=lot,
    )
    BatchInput.objects.bulk_create(BatchInput(batch=batch, lot=one, qty=1) for one in inputs)
    return lot


def test_a_lot_takes_the_words_of_what_really_went_in_as_well() -> None:
    flour, rice, sesame = food("wheat"), food(), food("sesame")
    recipe(dough := make.item(kind="prep"), flour)
    recipe(bread := make.item(kind="prep"), dough)
    swapped = batch_lot(bread, batch_lot(dough, make.lot(1, of=rice), make.lot(1, of=sesame)))
    card = lot_allergens([swapped])[swapped.strip]
    assert contained(card) == {"wheat", "sesame"}


def test_a_part_has_the_words_of_the_lot_it_came_from() -> None:
    recipe(dip := make.item(kind="prep"), food())
    whole = batch_lot(dip, make.lot(1, of=food("milk")))
    place = whole.on_hand.get().location
    part = split_lot(
        Part(whole, place, Decimal(10), Change.PORTION), happened_at=NOW, by=None, at=NOW
    )
    assert contained(lot_allergens([part])[part.strip]) == {"milk"}


def test_a_silent_input_is_not_stated_and_never_free() -> None:
    recipe(dip := make.item(kind="prep"), food())
    lot = batch_lot(dip, make.lot(1, of=food(stated=False)))
    assert {said.word for said in lot_allergens([lot])[lot.strip]} == {Word.NOT_STATED}


def test_queries_do_not_grow_with_lots(count_queries: Callable[..., int]) -> None:
    def lots(count: int) -> list[Lot]:
        recipe(dip := make.item(kind="prep"), food())
        return [batch_lot(dip, make.lot(1, of=food())) for _ in range(count)]

    few, many = lots(3), lots(20)
    assert count_queries(lot_allergens, few) == count_queries(lot_allergens, many)
