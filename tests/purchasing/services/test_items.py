"""Adding and changing items: the workbook's rules, said of a form's fields."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from inventory.models import AllergenWord, Event, Inbound, Item, ItemUnit, Recipe, Sale
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Viewer
from inventory.selectors.item_facts import digest_of, item_facts
from inventory.selectors.viewers import viewer_of
from inventory.services.items import Saved
from purchasing.models import DueMoment, Par
from purchasing.services.items import (
    TypedItem,
    add_item,
    bring_item_back,
    change_item,
    retire_item,
)
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def leek() -> Item:
    return make.item(code="LEEK", name="Leeks", unit="kg", shelf_life_days=9)


@pytest.fixture
def viewer() -> Viewer:
    return viewer_of(make.manager())


def typed(units: tuple[tuple[str, str, str], ...] = (), **facts: str) -> TypedItem:
    usual = {"name": "Leeks", "kind": "ingredient", "unit": "kg", "shelf_life_days": "9"}
    rows = [{"unit": word, "qty": size, "of_unit": of} for word, size, of in units]
    return TypedItem({**usual, **facts}, list(enumerate(rows)))


def change(viewer: Viewer, form: TypedItem, as_read: str | None = None) -> Saved:
    code = form.facts.get("code", "LEEK")
    read = as_read or digest_of(item_facts(Item.objects.get(code="LEEK")))
    return change_item(code, form, as_read=read, viewer=viewer, by=None, at=NOW)


def refusal(viewer: Viewer, form: TypedItem, as_read: str | None = None) -> tuple[Problem, ...]:
    with pytest.raises(Refused) as refused:
        change(viewer, form, as_read)
    return refused.value.problems


def test_facts_words_and_units_are_stored_and_noted(leek: Item, viewer: Viewer) -> None:
    form = typed(
        (("pan", "2.5", "kg"),), name="Leeks, washed", allergens="celery", allergens_free="milk"
    )
    change(viewer, form)
    leek.refresh_from_db()
    assert leek.name == "Leeks, washed"
    stated = set(AllergenWord.objects.values_list("allergen", "says"))
    assert stated == {("celery", "contains"), ("milk", "free")}
    assert ItemUnit.objects.get(item=leek).qty == Decimal("2.5")
    event = Event.objects.get(subject="item:LEEK")
    assert event.verb == "change"
    assert event.changes["name"] == ["Leeks", "Leeks, washed"]
    assert event.changes["unit pan"] == ["", "2.5 kg"]


def test_the_same_form_again_changes_and_notes_nothing(leek: Item, viewer: Viewer) -> None:
    assert change(viewer, typed()).changes == {}
    assert not Event.objects.exists()
    assert not DueMoment.objects.exists()


def test_nobody_says_contains_and_free_at_once(leek: Item, viewer: Viewer) -> None:
    (problem,) = refusal(viewer, typed(allergens="milk", allergens_free="milk"))
    assert problem.message == (
        "Allergens it is free from: 'milk' stands under allergens too; keep one of them."
    )


def test_a_word_taken_back_is_not_stated_again(leek: Item, viewer: Viewer) -> None:
    AllergenWord.objects.create(item=leek, allergen="celery", says="free")
    change(viewer, typed(allergens="", allergens_may="", allergens_free=""))
    assert not AllergenWord.objects.exists()


def test_every_problem_is_said_at_once_each_at_its_field(leek: Item, viewer: Viewer) -> None:
    form = typed((("pan", "none", "kg"),), name="", shelf_life_days="a week", grams_per_ml="-1")
    problems = {problem.field: problem.message for problem in refusal(viewer, form)}
    assert problems == {
        "name": "Name is missing.",
        "shelf_life_days": "Life as received or made: 'a week' is not a number; type a figure "
        "such as 12.5.",
        "grams_per_ml": "Grams in 1 ml: '-1' must be more than 0.",
        "qty-0": "pan. Size: 'none' is not a number; type a figure such as 12.5.",
    }


def test_a_wrong_cell_hides_nothing_of_the_rest(leek: Item, viewer: Viewer) -> None:
    """What cannot be read, what does not hold together, and what rows rest on, in one round."""
    ItemUnit.objects.create(item=leek, word="pan", qty=2, of_unit="kg")
    Par.objects.create(location=make.location(), item=leek, par=1, unit="pan", basis="fixed")
    form = typed(name="", shelf_life_days="a week", allergens="milk", allergens_free="milk")
    problems = {problem.field: problem.message for problem in refusal(viewer, form)}
    assert set(problems) == {"name", "shelf_life_days", "allergens_free", "unit"}
    assert problems["unit"].startswith("1 par of Leeks is written in 'pan'")


def test_a_wrong_unit_is_not_blamed_on_what_is_written_in_it(leek: Item, viewer: Viewer) -> None:
    form = typed((("pan", "2", "kg"),), unit="a lot", name="")
    assert {problem.field for problem in refusal(viewer, form)} == {"unit", "name"}


def test_a_taken_code_hides_nothing_of_the_rest(leek: Item, viewer: Viewer) -> None:
    form = typed((("pan", "none", "kg"),), code="LEEK", name="", shelf_life_days="a week")
    with pytest.raises(Refused) as refused:
        add_item(form, viewer=viewer, by=None, at=NOW)
    assert [problem.field for problem in refused.value.problems] == [
        "code",
        "name",
        "shelf_life_days",
        "qty-0",
    ]


def test_a_unit_that_leads_nowhere_is_refused_without_the_workbooks_words(
    leek: Item, viewer: Viewer
) -> None:
    (problem,) = refusal(viewer, typed((("bunch", "3", "each"),)))
    assert problem.field == "of_unit-0"
    assert "'grams in one piece'" in problem.message
    assert "grams_per" not in problem.message


def test_lots_keep_the_base_unit(leek: Item, viewer: Viewer) -> None:
    make.lot(500, of=leek)
    (problem,) = refusal(viewer, typed(unit="each"))
    assert "its lots are counted in g; keep a unit of g" in problem.message


def test_what_was_sold_in_kilograms_is_not_turned_into_grams(leek: Item, viewer: Viewer) -> None:
    Sale.objects.create(location=make.location(), date=TODAY, item=leek, qty=3)
    (problem,) = refusal(viewer, typed(unit="g"))
    assert problem.message.startswith("Leeks was sold in kg (1 row of sales)")
    assert Item.objects.get().unit == "kg"


def test_a_unit_that_rows_rest_on_cannot_go(leek: Item, viewer: Viewer) -> None:
    ItemUnit.objects.create(item=leek, word="pan", qty=2, of_unit="kg")
    Par.objects.create(location=make.location(), item=leek, par=1, unit="pan", basis="fixed")
    make.offer(item=leek, pack_unit="pan")
    (problem,) = refusal(viewer, typed())
    assert problem.message == (
        "1 offer and 1 par of Leeks are written in 'pan', which would have no size any more. "
        "Keep what gives it one, or write them in another unit first."
    )
    assert ItemUnit.objects.exists()


def test_a_weight_that_rows_rest_on_cannot_go(leek: Item, viewer: Viewer) -> None:
    Item.objects.update(grams_per_each=200)
    made = make.item()
    recipe = Recipe.objects.create(item=made, makes_qty=1, makes_unit="kg")
    recipe.lines.create(item=leek, position=1, qty=3, unit="each")
    (problem,) = refusal(viewer, typed())
    assert problem.field == "grams_per_each"
    assert problem.message.startswith("1 recipe line of Leeks is written in 'each'")


def test_half_a_unit_says_what_is_missing_of_which(leek: Item, viewer: Viewer) -> None:
    problems = refusal(viewer, typed((("pan", "", ""),)))
    assert [problem.message for problem in problems] == [
        "pan. Size is missing.",
        "pan. Unit of the size is missing.",
    ]


def test_a_new_size_of_a_unit_in_use_is_explained(leek: Item, viewer: Viewer) -> None:
    ItemUnit.objects.create(item=leek, word="pan", qty=2, of_unit="kg")
    Par.objects.create(location=make.location(), item=leek, par=1, unit="pan", basis="fixed")
    saved = change(viewer, typed((("pan", "2.5", "kg"),)))
    assert saved.said == ("1 pan was 2000 g and is now 2500: 1 par means that from now on.",)


def test_a_new_life_leaves_lots_and_moves_what_is_coming(leek: Item, viewer: Viewer) -> None:
    make.lot(500, of=leek, use_by=TODAY)
    order = make.order()
    make.order_line(order, offer=make.offer(supplier=order.supplier, item=leek))
    change(viewer, typed(shelf_life_days="5"))
    saved = change(viewer, typed(shelf_life_days="4"))
    assert saved.said == (
        "The lot on hand keeps its use-by; the new life counts for what comes, is opened or is "
        "thawed from now on.",
    )
    inbound = Inbound.objects.get()
    assert inbound.use_by is not None
    assert (inbound.use_by - inbound.due).days == 4
    assert DueMoment.objects.filter(kind="change").exists()


def test_a_form_opened_before_somebody_elses_change_is_stale(leek: Item, viewer: Viewer) -> None:
    opened = digest_of(item_facts(leek))
    ines = make.user(first_name="Ines")
    change_item("LEEK", typed(shelf_life_days="8"), as_read=opened, viewer=viewer, by=ines, at=NOW)
    (problem,) = refusal(viewer, typed(shelf_life_days="7"), as_read=opened)
    assert problem.code == "stale"
    assert problem.message.startswith("Ines changed Leeks at 09:00: shelf life days 9 -> 8.")
    assert Item.objects.get().shelf_life_days == 8


@pytest.mark.parametrize("role", ["staff", "prep_lead", "truck_lead"])
def test_the_floor_does_not_change_items(leek: Item, role: str) -> None:
    person = make.user()
    person.memberships.create(role=role)
    (problem,) = refusal(viewer_of(person), typed(name="Other"))
    assert problem.code == "not_allowed"


def test_a_manager_of_one_place_does_not_change_what_all_share(leek: Item) -> None:
    (problem,) = refusal(viewer_of(make.manager(make.location())), typed(name="Other"))
    assert problem.message.startswith("Items are shared by every location")


def test_an_item_that_is_not_there_is_not_there(leek: Item, viewer: Viewer) -> None:
    with pytest.raises(NotThere):
        change(viewer, typed(code="LEAK"))


def add(viewer: Viewer, code: str, **facts: str) -> Saved:
    return add_item(typed((), code=code, **facts), viewer=viewer, by=None, at=NOW)


def test_an_item_is_added(viewer: Viewer) -> None:
    assert add(viewer, "LEEK", tcs="yes").item.tcs is True
    assert Event.objects.get().verb == "add"


@pytest.mark.parametrize(
    ("code", "field", "words"),
    [
        ("LEEK", "code", "'LEEK' is Leeks; choose another code"),
        ("two words", "code", "is not a code"),
        ("", "code", "Code is missing"),
    ],
    ids=["taken", "not a code", "blank"],
)
def test_a_code_must_be_new_and_a_code(
    leek: Item, viewer: Viewer, code: str, field: str, words: str
) -> None:
    with pytest.raises(Refused) as refused:
        add(viewer, code)
    problems: Any = {problem.field: problem.message for problem in refused.value.problems}
    assert words in problems[field]
    assert Item.objects.count() == 1


def test_an_item_that_nothing_needs_is_retired_and_comes_back(leek: Item, viewer: Viewer) -> None:
    for _ in range(2):  # the press came twice
        retire_item("LEEK", viewer=viewer, by=None, at=NOW)
    assert Item.objects.get().retired_on == TODAY
    for _ in range(2):
        bring_item_back("LEEK", viewer=viewer, by=None, at=NOW)
    assert Item.objects.get().retired_on is None
    assert [event.verb for event in Event.objects.order_by("pk")] == ["retire", "bring_back"]


def test_an_item_is_not_retired_while_anything_needs_it(leek: Item, viewer: Viewer) -> None:
    place = make.location()
    make.lot(500, of=leek, at=place)
    make.offer(item=leek)
    Par.objects.create(location=place, item=leek, par=1, basis="fixed")
    recipe = Recipe.objects.create(item=make.item(), makes_qty=1, makes_unit="kg")
    recipe.lines.create(item=leek, position=1, qty=3, unit="kg")
    with pytest.raises(Refused) as refused:
        retire_item("LEEK", viewer=viewer, by=None, at=NOW)
    assert refused.value.problems[0].message == (
        "Leeks is still needed: 1 lot on hand, 1 recipe that takes it, 1 offer and 1 par. Clear "
        "these first."
    )
    assert Item.objects.get(code="LEEK").retired_on is None
