"""Pages of items: found, read, changed, refused with nothing lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.db import transaction
from django.test import Client
from django.urls import reverse

from inventory.models import AllergenWord, Item, ItemUnit, Location, Recipe, RecipeLine
from purchasing.models import Par, Price
from purchasing.services.inbound import tell_kitchen
from tests import factories as make
from tests.at_the_desk import press, read, sign_in, told

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def leek(place: Location) -> Item:
    return make.item(code="LEEK", name="Leeks", unit="kg", shelf_life_days=9, storage="chilled")


@pytest.fixture
def manager(client: Client) -> User:
    user = make.member("manager", sees_cost=True)
    sign_in(client, user)
    return user


def filled(client: Client) -> dict[str, str]:
    """What the form of the leeks holds when it is opened."""
    page = client.get(reverse("item_change", args=["LEEK"])).context
    typed = {name: value for name, value in page["typed"].items() if value}
    for row in page["page"]["allergens"]:
        typed |= {f"allergen-{row.index}": row.name, f"says-{row.index}": row.says}
    return {**typed, "as_read": page["page"]["as_read"]}


def test_items_are_found_by_name_or_code(client: Client, manager: User, leek: Item) -> None:
    make.item(code="LENTIL", name="Lentils")
    assert "Lentils" in read(client, "items")
    for asked in ("leek", "LEE", "eeks"):
        text = read(client, "items", find=asked)
        assert "Leeks" in text
        assert "Lentils" not in text
    assert "No item has “beet” in its name or code." in read(client, "items", find="beet")


def test_a_retired_item_is_only_found_by_asking(client: Client, manager: User) -> None:
    make.item(name="Old leeks", retired_on=make.TODAY)
    assert "Old leeks" not in read(client, "items")
    assert "retired 2026-03-04" in read(client, "items", find="old")


def test_a_long_list_is_folded_by_what_items_are_and_hides_nothing_unsafe(
    client: Client, manager: User, leek: Item
) -> None:
    """Of leeks nobody has stated anything; packaging is not eaten."""
    make.item(name="Soup", kind="menu")
    for _ in range(30):
        make.item(kind="packaging")
    page = client.get("/items/").content.decode()
    assert page.count("<details") == 2
    assert "What we buy: 31" in page
    assert "What we sell: 1" in page
    above = page.split("<details")[0]
    assert "2 items have allergens not stated: ask before serving" in above
    assert ">Leeks</a>" in above and ">Soup</a>" in above
    assert "<details" not in client.get("/items/?find=e").content.decode()


def test_a_short_list_is_not_folded(client: Client, manager: User, leek: Item) -> None:
    page = client.get("/items/").content.decode()
    assert "<details" not in page
    assert "What we buy" in page


def test_an_empty_kitchen_says_what_to_do(client: Client, manager: User) -> None:
    assert "There are no items yet." in read(client, "items")


def test_an_item_says_loudly_what_nobody_has_stated(
    client: Client, manager: User, leek: Item
) -> None:
    AllergenWord.objects.create(item=leek, allergen="milk", says="free")
    text = read(client, "item", "LEEK")
    assert "<strong>Not stated</strong> eggs, fish" in text
    assert "treat it as if it were in there" in text
    assert "<dt>stated free from</dt><dd>milk</dd>" in text


def test_everything_about_an_item_stands_on_its_page(
    client: Client, manager: User, leek: Item, place: Location
) -> None:
    ItemUnit.objects.create(item=leek, word="pan", qty=2, of_unit="kg")
    Par.objects.create(location=place, item=leek, par=3, unit="pan", basis="fixed")
    offer = make.offer(item=leek, sku="L-1", supplier=make.supplier(name="Marsh Growers"))
    Price.objects.create(offer=offer, price=Decimal("9.5"))
    lot = make.lot(2500, at=place, of=leek, use_by=make.TODAY)
    soup = make.item(name="Leek soup", kind="menu", unit="each")
    recipe = Recipe.objects.create(item=soup, makes_qty=10, makes_unit="each")
    RecipeLine.objects.create(recipe=recipe, item=leek, position=1, qty=1, unit="pan")
    order = make.order(location=place, supplier=offer.supplier)
    make.order_line(order, offer=offer)
    with transaction.atomic():
        tell_kitchen([order.pk])
    text = read(client, "item", "LEEK")
    for said in (
        "1 pan is 2 kg (1 recipe line and 1 par)",
        "9 days as received or made",
        "every day 3 pan: the par",
        "9.50/case",
        f'<a class="code" href="/lots/{lot.strip}/">{lot.strip}</a>',
        f'<a href="/suppliers/{offer.supplier.code}/">Marsh Growers</a>',
        "2.5 kg",
        "1 pan for 10",
        "20 kg to Mill Lane, was due Wed 4 Mar: Marsh Growers",
    ):
        assert said in text, said


def test_money_is_for_those_who_see_costs(client: Client, leek: Item, place: Location) -> None:
    Price.objects.create(offer=make.offer(item=leek), price=Decimal("9.5"))
    sign_in(client, make.member("staff", place))
    assert "9.50" not in read(client, "item", "LEEK")


def test_lots_and_pars_of_other_places_are_not_shown(client: Client, leek: Item) -> None:
    other = make.location(name="Elsewhere")
    make.lot(500, at=other, of=leek)
    Par.objects.create(location=other, item=leek, par=3, basis="fixed")
    sign_in(client, make.member("staff", make.location()))
    text = read(client, "item", "LEEK")
    assert "Elsewhere" not in text
    assert "None is on hand." in text


def test_a_form_saved_as_it_was_opened_changes_nothing(
    client: Client, manager: User, leek: Item
) -> None:
    ItemUnit.objects.create(item=leek, word="pan", qty=2, of_unit="kg")
    AllergenWord.objects.create(item=leek, allergen="celery", says="may")
    answer = press(client, reverse("item_change", args=["LEEK"]), **filled(client))
    assert answer.status_code == 302
    assert "Nothing was changed." in read(client, "item", "LEEK")


def labels_of(page: str) -> dict[str, str]:
    """By the name of an input: its label on the form."""
    return dict(re.findall(r'<label for="(\w+)">([^<]*)</label>', page))


def test_what_is_wrong_is_called_as_the_form_calls_it(client: Client, manager: User) -> None:
    """Every input that can be wrong, wrong at once."""
    figures = ("shelf_life_days", "shelf_life_opened_days", "shelf_life_thawed_days", "thaw_hours")
    more = ("grams_per_each", "grams_per_ml", "sale_price", "litres_per_unit", "walk_order")
    typed = dict.fromkeys((*figures, *more, "storage", "on_return", "use_per", "kind"), "soon")
    answer = press(client, reverse("item_add"), code="a b", name="", unit="a lot", **typed)
    labels = labels_of(answer.content.decode())
    told_of = {one.field: one.message for one in answer.context["problems"]}
    assert set(told_of) == {*typed, "code", "name", "unit"}
    for field, message in told_of.items():
        assert message.partition(":")[0].removesuffix(" is missing.") == labels[field]


def test_a_kitchen_of_pounds_reads_ounces_and_gallons(
    client: Client, manager: User, place: Location
) -> None:
    facts = {"unit": "lb", "grams_per_each": Decimal("170.09713875"), "grams_per_ml": 1}
    make.item(code="LEEK", name="Leeks", **facts)
    text = " ".join(read(client, "item", "LEEK").split())
    assert "one piece weighs 6 oz" in text and "1 floz weighs 1 oz" in text
    form = read(client, "item_change", "LEEK")
    assert "lb, gal, each, or a word of its own below" in form
    assert "1 gal is 3.785 litres" in form and "kg, l, each" not in form


def test_a_kitchen_of_kilograms_reads_grams(client: Client, manager: User, leek: Item) -> None:
    Item.objects.update(grams_per_each=170)
    assert "one piece weighs 170 g" in read(client, "item", "LEEK")
    form = read(client, "item_change", "LEEK")
    assert "kg, l, each, or a word of its own below" in form and "gal" not in form


def test_an_item_is_changed_and_says_so(client: Client, manager: User, leek: Item) -> None:
    typed = {
        **filled(client),
        "shelf_life_days": "7",
        "says-0": "contains",
        "unit-0": "pan",
        "qty-0": "2",
        "of_unit-0": "kg",
    }
    make.lot(500, of=leek)
    answer = press(client, reverse("item_change", args=["LEEK"]), **typed)
    text = read(client, "item", "LEEK")
    assert answer.status_code == 302
    assert "Leeks is changed. The lot on hand keeps its use-by" in text
    assert "<dt>contains</dt><dd><b>milk</b>" in text
    assert ItemUnit.objects.get().word == "pan"


def test_a_second_press_gets_the_first_answer(client: Client, manager: User, leek: Item) -> None:
    typed = {**filled(client), "name": "Leeks, washed", "key": "one"}
    address = reverse("item_change", args=["LEEK"])
    assert [press(client, address, **typed).status_code for _ in range(2)] == [302, 302]


def test_all_problems_stand_above_the_form_and_all_that_was_typed_in_it(
    client: Client, manager: User, leek: Item
) -> None:
    typed = {
        **filled(client),
        "name": "",
        "shelf_life_days": "soon",
        "says-1": "may",
        "unit-2": "pan",
        "qty-2": "none",
        "of_unit-2": "kg",
    }
    answer = press(client, reverse("item_change", args=["LEEK"]), **typed)
    text = " ".join(answer.content.decode().split())
    assert answer.status_code == 422
    assert "3 things to put right; nothing was stored" in text
    assert '<a href="#qty-2">pan. Size: &#x27;none&#x27; is not a number' in text
    assert (
        'value="soon" size="7" inputmode="decimal" autocomplete="off" aria-invalid="true"' in text
    )
    assert 'name="says-1" value="may" checked' in text
    assert 'name="qty-2" value="none"' in text
    leek.refresh_from_db()
    assert leek.name == "Leeks"


def test_somebody_was_quicker(client: Client, manager: User, leek: Item) -> None:
    typed = {**filled(client), "name": "Leeks, green"}
    Item.objects.update(shelf_life_days=5)
    answer = press(client, reverse("item_change", args=["LEEK"]), **typed)
    assert answer.status_code == 409
    assert 'value="Leeks, green"' in answer.content.decode()
    again = {**typed, "as_read": answer.context["page"]["as_read"]}
    assert press(client, reverse("item_change", args=["LEEK"]), **again).status_code == 302


def test_an_item_is_added(client: Client, manager: User) -> None:
    typed = {"code": "BEET", "name": "Beets", "kind": "ingredient", "unit": "kg"}
    answer = press(client, reverse("item_add"), **typed)
    assert answer.url == reverse("item", args=["BEET"])
    assert "Beets is added." in read(client, "item", "BEET")


@pytest.mark.parametrize("kind", ["ingredient", "prep", "resale"])
def test_chilled_unsafe_food_saved_without_a_life_is_a_gap(
    client: Client, manager: User, kind: str
) -> None:
    typed = {"code": "MILK", "name": "Milk", "kind": kind, "unit": "l", "storage": "chilled"}
    assert press(client, reverse("item_add"), **typed, tcs="yes").status_code == 302
    assert "Milk must be kept hot or cold and has no life" in read(client, "not_ready")


def test_a_new_item_without_anything_is_told_all_it_needs(client: Client, manager: User) -> None:
    answer = press(client, reverse("item_add"), **{"allergen-9": "lupin", "says-9": "may"})
    assert told(answer) == [
        "Code is missing.",
        "Name is missing.",
        "Kind is missing.",
        "Unit is missing.",
    ]
    assert 'value="lupin"' in answer.content.decode()


def test_an_allergen_typed_and_not_said_is_not_lost_on_a_new_item(
    client: Client, manager: User
) -> None:
    typed = {"code": "BEET", "name": "Beets", "kind": "ingredient", "unit": "kg"}
    typed |= {"allergen-9": "mustard", "says-9": "", "key": "one"}
    answer = press(client, reverse("item_add"), **typed)
    assert answer.status_code == 422
    assert told(answer) == [
        "Say of mustard whether it contains it, may contain it or is free of it."
    ]
    text = answer.content.decode()
    assert 'href="#allergen-9"' in text
    assert 'aria-invalid="true" aria-describedby="problem-allergen-9"' in text
    assert 'value="mustard"' in text
    assert not Item.objects.exists()
    assert press(client, reverse("item_add"), **{**typed, "says-9": "free"}).status_code == 302
    assert AllergenWord.objects.get().allergen == "mustard"


def test_an_allergen_typed_and_not_said_is_not_lost_on_a_change(
    client: Client, manager: User, leek: Item
) -> None:
    AllergenWord.objects.create(item=leek, allergen="celery", says="may")
    opened = {**filled(client), "name": "Leeks, green"}
    typed = {**opened, "allergen-10": "mustard", "shelf_life_days": "soon"}
    answer = press(client, reverse("item_change", args=["LEEK"]), **typed)
    assert [problem.field for problem in answer.context["problems"]] == [
        "shelf_life_days",
        "allergen-10",
    ]
    typed = {**opened, "allergen-10": "mustard"}
    assert press(client, reverse("item_change", args=["LEEK"]), **typed).status_code == 422
    leek.refresh_from_db()
    assert leek.name == "Leeks"
    # one that was stated may be taken back
    typed = {**opened, "says-9": ""}
    assert press(client, reverse("item_change", args=["LEEK"]), **typed).status_code == 302
    assert not AllergenWord.objects.exists()


def test_an_item_is_retired_from_its_form(client: Client, manager: User, leek: Item) -> None:
    lot = make.lot(500, of=leek)
    answer = press(client, reverse("item_retire", args=["LEEK"]))
    assert answer.status_code == 422
    assert told(answer) == ["Leeks is still needed: 1 lot on hand. Clear these first."]
    assert 'value="Leeks"' in answer.content.decode()
    lot.on_hand.update(qty=0)
    press(client, reverse("item_retire", args=["LEEK"]))
    assert "Leeks is retired: no list shows it now." in read(client, "item", "LEEK")
    press(client, reverse("item_retire", args=["LEEK"]), back="yes")
    assert "Leeks is back." in read(client, "item", "LEEK")


@pytest.mark.parametrize(
    ("role", "status"),
    [("buyer", 200), ("owner", 200), ("staff", 404), ("prep_lead", 404), ("truck_lead", 404)],
)
def test_who_sees_the_form(client: Client, leek: Item, role: str, status: int) -> None:
    sign_in(client, make.member(role))
    assert client.get(reverse("item_change", args=["LEEK"])).status_code == status
    assert client.get(reverse("item", args=["LEEK"])).status_code == 200


def test_an_item_that_is_not_there(client: Client, manager: User) -> None:
    for name in ("item", "item_change"):
        assert client.get(reverse(name, args=["LEAK"])).status_code == 404


def test_names_are_text_not_markup(client: Client, manager: User) -> None:
    make.item(code="X", name="<b>Leeks</b>")
    for page in (read(client, "items"), read(client, "item", "X")):
        assert "&lt;b&gt;Leeks&lt;/b&gt;" in page


@pytest.mark.parametrize("name", ["items", "item", "item_change"])
def test_queries_do_not_grow(
    client: Client,
    manager: User,
    leek: Item,
    place: Location,
    name: str,
    count_queries: Callable[..., int],
) -> None:
    args = [] if name == "items" else ["LEEK"]
    rows(leek, place, 3)
    client.get(reverse(name, args=args))
    few = count_queries(client.get, reverse(name, args=args))
    rows(leek, place, 57)
    assert count_queries(client.get, reverse(name, args=args)) == few


def rows(leek: Item, place: Location, count: int) -> None:
    """So many lots, offers, pars, units, words and dishes of the leeks."""
    for number in range(count):
        other = make.item(kind="menu")
        recipe = Recipe.objects.create(item=other, makes_qty=1, makes_unit="kg")
        RecipeLine.objects.create(recipe=recipe, item=leek, position=1, qty=1, unit="kg")
        ItemUnit.objects.create(item=leek, word=f"pan{other.pk}", qty=2, of_unit="kg")
        AllergenWord.objects.create(item=leek, allergen=f"herb {other.pk}", says="may")
        Price.objects.create(offer=make.offer(item=leek), price=number)
        there = make.location()
        Par.objects.create(location=there, item=leek, par=3, basis="fixed")
        make.lot(500, at=place, of=leek)
