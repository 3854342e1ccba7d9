"""What is not ready: each gap a sentence and one link, most harmful first."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from inventory.engine.allergens import US9
from inventory.models import AllergenWord, Item, Location, MenuEntry, Recipe, RecipeLine, Stop
from inventory.selectors.viewers import viewer_of
from purchasing.models import Par, Price
from purchasing.selectors.gaps import Gap
from purchasing.selectors.not_ready import not_ready_page
from tests import factories as make
from tests.at_the_desk import read, sign_in
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def boss() -> User:
    return make.member("owner", sees_cost=True)


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


def ready_item(**facts: object) -> Item:
    """An item of which everything is stated."""
    item = make.item(**{"name": "Leeks", "shelf_life_days": 9, **facts})
    AllergenWord.objects.bulk_create(
        AllergenWord(item=item, allergen=allergen, says="free") for allergen in US9
    )
    return item


def gaps(user: User, title: str) -> list[Gap]:
    page = not_ready_page(viewer_of(user), NOW)
    return [gap for kind in page.kinds if kind.title == title for gap in kind.gaps]


def sentences(user: User, title: str) -> list[str]:
    return [gap.sentence for gap in gaps(user, title)]


def test_a_kitchen_with_everything_has_no_gap(client: Client, boss: User) -> None:
    ready_item()
    sign_in(client, boss)
    assert "Nothing is missing that would block a promise." in read(client, "not_ready")


def test_silence_about_allergens_weighs_by_the_dishes_it_is_in(boss: User, place: Location) -> None:
    half = ready_item(name="Tofu")
    AllergenWord.objects.filter(item=half, allergen="soybeans").delete()
    base = make.item(name="Stock base")
    soup = ready_item(name="Soup", kind="menu", unit="each")
    recipe = Recipe.objects.create(item=soup, makes_qty=1, makes_unit="each")
    RecipeLine.objects.create(recipe=recipe, item=base, position=1, qty=1, unit="kg")
    MenuEntry.objects.create(location=place, item=soup)
    assert sentences(boss, "Allergens not stated") == [
        "Stock base: nobody has said about any allergen, and it is in 1 dish on a menu.",
        "Tofu: nobody has said about soybeans.",
    ]


def test_packaging_and_what_is_retired_need_no_allergens(boss: User) -> None:
    make.item(kind="packaging")
    make.item(retired_on=TODAY)
    assert not_ready_page(viewer_of(boss), NOW).kinds == ()


def test_cold_food_without_a_life(boss: User) -> None:
    ready_item(name="Milk", tcs=True, shelf_life_days=None)
    ready_item(name="Butter", storage="chilled", shelf_life_days=None)
    ready_item(name="Salt", storage="dry", shelf_life_days=None)
    (gap,) = gaps(boss, "Unsafe food without a life")
    assert gap.sentence.startswith("Milk must be kept hot or cold and has no life")
    assert gap.fix is not None
    assert gap.fix.page == "item_change"
    assert sentences(boss, "Goods without a life") == ["Butter is kept chilled and has no life."]


def test_a_dish_that_waits_in_the_cold_needs_a_life_too(boss: User) -> None:
    """A packed salad expires like any other food; what is finished for the guest does not wait."""
    ready_item(name="Packed salad", kind="menu", tcs=True, storage="chilled", shelf_life_days=None)
    ready_item(name="Ice lolly", kind="menu", storage="frozen", shelf_life_days=None)
    ready_item(name="Noodle bowl", kind="menu", tcs=True, shelf_life_days=None)
    ready_item(name="Wrap", kind="menu", tcs=True, storage="chilled", shelf_life_days=1)
    (gap,) = gaps(boss, "Unsafe food without a life")
    assert gap.sentence.startswith("Packed salad must be kept hot or cold and has no life")
    assert sentences(boss, "Goods without a life") == ["Ice lolly is kept frozen and has no life."]


def test_what_is_sold_needs_a_recipe_unless_it_is_bought(boss: User, place: Location) -> None:
    bare = ready_item(name="Noodle bowl", kind="menu")
    bought = ready_item(name="Ginger fizz", kind="resale")
    for item in (bare, bought):
        MenuEntry.objects.create(location=place, item=item)
    ready_item(name="Broth", kind="prep")
    assert sentences(boss, "Sold without a recipe") == [
        "Noodle bowl is on a menu and has no recipe."
    ]
    assert sentences(boss, "Made without a recipe") == ["Broth is made here and has no recipe."]


def test_a_menu_that_has_ended_sells_nothing(boss: User, place: Location) -> None:
    old = ready_item(kind="menu")
    MenuEntry.objects.create(location=place, item=old, last=TODAY - timedelta(days=1))
    assert sentences(boss, "Sold without a recipe") == []


def test_drafts_past_their_last_cutoff(boss: User, place: Location) -> None:
    supplier = make.supplier(name="Marsh Growers")
    usual = {"supplier": supplier, "location": place, "status": "draft"}
    make.order(**usual, delivery=TODAY, order_by=NOW - timedelta(hours=1))
    still = {"order_by": NOW - timedelta(hours=1), "last_order_by": NOW + timedelta(hours=1)}
    make.order(**usual, delivery=TODAY + timedelta(days=1), **still)
    make.order(**usual, delivery=TODAY - timedelta(days=1), order_by=NOW - timedelta(days=2))
    assert sentences(boss, "Orders past their cutoff") == [
        "Marsh Growers, Wed 4 Mar to Mill Lane: the cutoff has passed and it was not sent."
    ]


def test_units_that_lead_nowhere_are_said_once_an_item(boss: User, place: Location) -> None:
    leek = ready_item()
    for _ in range(2):
        made = ready_item(name="Soup", kind="prep")
        recipe = Recipe.objects.create(item=made, makes_qty=1, makes_unit="kg")
        RecipeLine.objects.create(recipe=recipe, item=leek, position=1, qty=1, unit="each")
    Par.objects.create(location=place, item=leek, par=1, unit="each", basis="fixed")
    assert sentences(boss, "Units that lead nowhere") == [
        "Leeks: a recipe is written in “each”, which has no size for it."
    ]


def test_offers_need_a_price_that_has_begun(boss: User) -> None:
    supplier = make.supplier(name="Marsh Growers", email="a@example.org")
    offers = [make.offer(supplier=supplier, item=ready_item(name=name)) for name in "ABC"]
    Price.objects.create(offer=offers[0], price=1)
    Price.objects.create(offer=offers[1], price=1, starts_on=TODAY + timedelta(days=1))
    assert sentences(boss, "Offers without a price") == [
        "B from Marsh Growers has no price in force today.",
        "C from Marsh Growers has no price in force today.",
    ]


def test_what_recipes_take_must_come_from_somewhere(boss: User) -> None:
    leek, soup = ready_item(), ready_item(name="Soup", kind="prep")
    recipe = Recipe.objects.create(item=soup, makes_qty=1, makes_unit="kg")
    RecipeLine.objects.create(recipe=recipe, item=leek, position=1, qty=1, unit="kg")
    assert sentences(boss, "Needed and not sold by anybody") == [
        "Leeks goes into a recipe, but no supplier offers it and it is not made."
    ]


def test_suppliers_need_days_and_an_address(boss: User) -> None:
    make.supplier(name="Granary", order_days=[], delivery_days=[], email="g@example.org")
    make.supplier(name="Growers", phone="555 0100")
    make.supplier(name="Ice house")
    make.supplier(name="Gone", order_days=[], retired_on=TODAY)
    assert sentences(boss, "Suppliers without days") == [
        "Granary has no days on which it takes orders and no days on which it delivers."
    ]
    assert sentences(boss, "Suppliers without an e-mail") == [
        "Growers has no e-mail address: its orders are read out by telephone.",
        "Ice house has neither an e-mail address nor a telephone number.",
    ]


def stop(place: Location, days: int, **facts: object) -> None:
    day = TODAY + timedelta(days=days)
    Stop.objects.create(location=place, date=day, opens="11:00", site="Weir Bridge", **facts)


def test_stops_ahead_need_covers_and_a_menu(boss: User, place: Location) -> None:
    dish = ready_item(kind="resale")
    MenuEntry.objects.create(location=place, item=dish, last=TODAY + timedelta(days=1))
    for days in (1, 2):
        stop(place, days)
    stop(place, 3, expected_covers=80)
    stop(place, 4, cancelled=True)
    stop(place, 40)
    assert sentences(boss, "Stops without covers") == [
        "Mill Lane: no covers are typed for 2 stops, the first Thu 5 Mar, Weir Bridge."
    ]
    assert sentences(boss, "Stops without a menu") == [
        "Mill Lane: nothing is on the menu of 2 stops, the first Fri 6 Mar, Weir Bridge."
    ]


def test_lots_without_a_cost_are_for_those_who_see_costs(boss: User, place: Location) -> None:
    lot = make.lot(500, at=place, of=ready_item())
    make.lot(500, at=place, of=ready_item(), unit_cost=Decimal("0.1"))
    assert sentences(boss, "Lots without a cost") == [f"Leeks: lots without a cost: {lot.strip}."]
    assert sentences(make.manager(), "Lots without a cost") == []


def test_bought_without_a_par_where_pars_are_set(boss: User, place: Location) -> None:
    leek, lentil = ready_item(), ready_item(name="Lentils")
    for item in (leek, lentil):
        make.offer(item=item)
        make.lot(500, at=place, of=item)
    Par.objects.create(location=place, item=lentil, par=1, basis="fixed")
    (gap,) = gaps(boss, "Bought without a par")
    assert gap.sentence == "Leeks has no par at Mill Lane."
    assert gap.fix is not None
    assert gap.fix.about == ("MILL", leek.code)


def test_the_most_harmful_stands_first(boss: User, place: Location) -> None:
    make.item(name="Tofu", tcs=True)
    make.supplier(name="Ice house")
    titles = [kind.title for kind in not_ready_page(viewer_of(boss), NOW).kinds]
    assert titles == [
        "Allergens not stated",
        "Unsafe food without a life",
        "Suppliers without an e-mail",
    ]


def test_who_may_not_mend_is_shown_no_link(boss: User, place: Location) -> None:
    make.item(tcs=True)
    page = not_ready_page(viewer_of(make.member("buyer", place)), NOW)
    assert page.first is None
    assert not_ready_page(viewer_of(make.member("buyer")), NOW).first is not None


def test_the_page_links_each_gap_to_where_it_is_mended(client: Client, boss: User) -> None:
    make.item(code="TOFU", name="Tofu")
    sign_in(client, boss)
    text = read(client, "not_ready")
    assert '<a class="act" href="/items/TOFU/change/">mend the first</a>' in text
    assert text.count('href="/items/TOFU/change/"') == 2


@pytest.mark.parametrize("role", ["staff", "prep_lead", "truck_lead"])
def test_the_floor_has_other_worries(client: Client, role: str) -> None:
    sign_in(client, make.member(role))
    assert client.get(reverse("not_ready")).status_code == 404


def test_queries_do_not_grow(
    client: Client, boss: User, place: Location, count_queries: Callable[..., int]
) -> None:
    sign_in(client, boss)
    rows(place, 3)
    few = count_queries(client.get, reverse("not_ready"))
    rows(place, 57)
    assert count_queries(client.get, reverse("not_ready")) == few


def rows(place: Location, count: int) -> None:
    for number in range(count):
        item = make.item(tcs=True, kind="menu" if number % 2 else "ingredient")
        make.offer(item=item)
        make.lot(500, at=place, of=item)
        made = make.item(kind="prep")
        recipe = Recipe.objects.create(item=made, makes_qty=1, makes_unit="kg")
        RecipeLine.objects.create(recipe=recipe, item=item, position=1, qty=1, unit="each")
        truck = make.location()
        MenuEntry.objects.create(location=truck, item=item)
        stop(truck, 3)
        make.order(status="draft", location=place, delivery=TODAY, order_by=NOW)
        Par.objects.create(location=place, item=made, par=1, basis="fixed")
