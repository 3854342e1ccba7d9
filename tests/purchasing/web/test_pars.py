"""Pages of pars: one place's table, and one item's week."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from inventory.models import Item, Location
from inventory.selectors.viewers import viewer_of
from purchasing.models import Par
from purchasing.selectors.pars_page import pars_page
from tests import factories as make
from tests.at_the_desk import press, read, sign_in, text_of, told

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def leek() -> Item:
    return make.item(code="LEEK", name="Leeks", unit="kg")


@pytest.fixture
def manager(client: Client, place: Location) -> User:
    user = make.manager(place)
    sign_in(client, user)
    return user


@pytest.fixture
def address(place: Location, leek: Item) -> str:
    return reverse("par", args=["MILL", "LEEK"])


def set_par(place: Location, item: Item, day: int | None = None, **facts: object) -> Par:
    usual = {"par": Decimal(12), "basis": "fixed"}
    return Par.objects.create(location=place, item=item, weekday=day, **{**usual, **facts})


def test_a_week_stands_in_one_row(
    client: Client, manager: User, place: Location, leek: Item
) -> None:
    set_par(place, leek)
    set_par(place, leek, 4, par=Decimal(20), basis="greater", service_level=Decimal("0.98"))
    page = pars_page("MILL", viewer_of(manager), make.NOW)
    (row,) = page.rows
    assert [cell.figure for cell in row.cells] == ["12", "12", "12", "12", "20", "12", "12"]
    assert [cell.is_own for cell in row.cells].index(True) == 4
    assert row.basis == "the par; the greater of both"
    assert row.level == "98 %"
    assert "Leeks" in read(client, "pars", "MILL")


def test_figures_in_different_units_say_which(manager: User, place: Location, leek: Item) -> None:
    set_par(place, leek)
    set_par(place, leek, 0, unit="lb")
    (row,) = pars_page("MILL", viewer_of(manager), make.NOW).rows
    assert [cell.figure for cell in row.cells][:2] == ["12 lb", "12 kg"]
    assert row.unit == ""


def test_items_stand_under_what_decides_and_those_without_a_figure_are_folded(
    client: Client, manager: User, place: Location, leek: Item
) -> None:
    set_par(place, leek)
    set_par(place, leek, 4, par=Decimal(20))
    set_par(place, make.item(name="Rice"), basis="forecast", par=None)
    set_par(place, make.item(name="Salt"), basis="forecast", par=None)
    mixed = make.item(name="Oats")
    set_par(place, mixed, par=Decimal(3))
    set_par(place, mixed, 5, basis="forecast", par=None)
    page = pars_page("MILL", viewer_of(manager), make.NOW)
    shown = [(group.head, len(group.rows), group.is_folded) for group in page.groups]
    assert shown == [
        ("The par decides", 1, False),
        ("The forecast decides", 2, True),
        ("It depends on the day", 1, False),
    ]
    text = read(client, "pars", "MILL")
    assert "every day 12 kg; Fri 20 kg" in text  # in words, where it is narrow
    assert "The forecast decides: 2</h2></summary>" in text
    assert "the par; the forecast" in text


def test_a_tip_has_a_column_only_where_there_is_one(
    client: Client, manager: User, place: Location, leek: Item
) -> None:
    set_par(place, leek)
    viewer = viewer_of(manager)
    assert pars_page("MILL", viewer, make.NOW).has_tips is False
    page = pars_page("MILL", viewer, make.NOW, {"LEEK": "14 kg"})
    assert (page.has_tips, page.rows[0].tip) == (True, "14 kg")
    assert "Tip" not in read(client, "pars", "MILL")


def test_a_place_without_pars_says_what_decides(client: Client, manager: User) -> None:
    assert "No par is set here: the forecast decides" in read(client, "pars", "MILL")


def test_what_is_bought_without_a_par_is_offered_for_one(
    client: Client, manager: User, leek: Item
) -> None:
    make.offer(item=leek)
    assert '<option value="LEEK">Leeks</option>' in read(client, "pars", "MILL")
    answer = client.get(reverse("pars", args=["MILL"]), {"item": "LEEK"})
    assert answer.headers["Location"] == reverse("par", args=["MILL", "LEEK"])


def test_one_place_needs_no_list(client: Client, manager: User) -> None:
    assert client.get(reverse("pars_list")).headers["Location"] == reverse("pars", args=["MILL"])


def test_several_places_are_listed(client: Client, place: Location, leek: Item) -> None:
    set_par(place, leek)
    make.location(name="Café")
    sign_in(client, make.manager())
    text = read(client, "pars_list")
    assert "one item has a par" in text
    assert "the forecast decides everything" in text


def form(client: Client, address: str) -> dict[str, str]:
    page = client.get(address).context
    return {**page["typed"], "as_read": page["page"]["as_read"]}


def test_a_week_is_set_in_one_form(client: Client, manager: User, address: str) -> None:
    typed = {
        **form(client, address),
        "par-0": "12",
        "basis-0": "fixed",
        "basis-5": "forecast",
        "service_level-5": "98",
    }
    answer = press(client, address, **typed)
    assert answer.url == reverse("pars", args=["MILL"])
    assert "Pars of Leeks at Mill Lane are set" in read(client, "pars", "MILL")
    assert Par.objects.get(weekday=4).service_level == Decimal("0.98")


def test_saved_as_it_was_opened_nothing_changes(
    client: Client, manager: User, place: Location, leek: Item, address: str
) -> None:
    set_par(place, leek, 4, par=Decimal("1.5"), unit="lb", service_level=Decimal("0.975"))
    set_par(place, leek, par=Decimal(0))
    press(client, address, **form(client, address))
    assert "Nothing was changed." in read(client, "pars", "MILL")


def test_all_problems_at_once_and_all_that_was_typed(
    client: Client, manager: User, address: str
) -> None:
    typed = {
        **form(client, address),
        "par-0": "lots",
        "basis-0": "fixed",
        "basis-3": "fixed",
        "service_level-3": "200",
        "unit-7": "pan",
        "par-7": "2",
        "basis-7": "fixed",
    }
    answer = press(client, address, **typed)
    assert answer.status_code == 422
    assert told(answer)[0].startswith("Every day. Par: 'lots'")
    text = text_of(answer)
    assert 'value="lots"' in text
    assert 'value="200"' in text
    assert 'id="problem-par-0"' in text


def test_problems_of_sound_rows_are_said_together(
    client: Client, manager: User, address: str
) -> None:
    typed = {
        **form(client, address),
        "basis-3": "fixed",
        "service_level-3": "200",
        "unit-7": "pan",
        "par-7": "2",
        "basis-7": "fixed",
    }
    said = [one.split(".")[0] for one in told(press(client, address, **typed))]
    assert sorted(said) == ["Sunday", "Wednesday", "Wednesday"]


def test_what_is_no_figure_hides_nothing_else(client: Client, manager: User, address: str) -> None:
    """One day with a word for a figure, others that do not hold together, in one round."""
    typed = {
        **form(client, address),
        "par-0": "lots",
        "basis-0": "fixed",
        "unit-0": "pan",
        "service_level-3": "200",
        "unit-7": "pan",
        "par-7": "2",
        "basis-7": "fixed",
        "supplied_by": "NOWHERE",
    }
    answer = press(client, address, **typed)
    fields = {problem.field for problem in answer.context["problems"]}
    assert fields >= {"par-0", "unit-0", "service_level-3", "unit-7", "supplied_by"}


def test_somebody_was_quicker(
    client: Client, manager: User, place: Location, leek: Item, address: str
) -> None:
    typed = {**form(client, address), "par-0": "7", "basis-0": "fixed"}
    set_par(place, leek, 2)
    answer = press(client, address, **typed)
    assert answer.status_code == 409
    assert 'value="7"' in answer.content.decode()


def test_staff_read_and_have_nothing_to_press(
    client: Client, place: Location, leek: Item, address: str
) -> None:
    set_par(place, leek)
    sign_in(client, make.member("staff", place))
    assert "save" not in read(client, "par", "MILL", "LEEK")
    answer = press(client, address, **{"par-0": "9", "basis-0": "fixed"})
    assert answer.status_code in (409, 422)
    assert Par.objects.get().par == 12


def test_other_places_are_not_there(client: Client, manager: User, leek: Item) -> None:
    make.location(code="YARD")
    assert client.get(reverse("pars", args=["YARD"])).status_code == 404
    assert client.get(reverse("par", args=["YARD", "LEEK"])).status_code == 404
    assert client.get(reverse("par", args=["MILL", "BEET"])).status_code == 404


@pytest.mark.parametrize("name", ["pars", "par", "pars_list"])
def test_queries_do_not_grow(
    client: Client,
    place: Location,
    leek: Item,
    name: str,
    count_queries: Callable[..., int],
) -> None:
    sign_in(client, make.manager())
    args = {"pars": ["MILL"], "par": ["MILL", "LEEK"], "pars_list": []}[name]
    address = reverse(name, args=args)
    rows(place, 3)
    few = count_queries(client.get, address)
    rows(place, 57)
    assert count_queries(client.get, address) == few


def rows(place: Location, count: int) -> None:
    for _ in range(count):
        set_par(place, make.item(), supplied_by=make.location())
        make.offer()
