"""The page of tips: read, asked for, adopted; money only for those who see it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client

from inventory.models import Item, Location
from purchasing.models import Finding, Par, Price
from purchasing.services.findings import ask_finding, find_if_asked
from tests import factories as make
from tests.purchasing.services.tip_kitchen import AT, kitchen, use
from tests.purchasing.web.shelf import post, signed_in, text_of

pytestmark = pytest.mark.django_db
PAGE = "/par-tips/MILL/"


@pytest.fixture
def place() -> Location:
    return kitchen(life=3)[0]


@pytest.fixture
def buyer(place: Location) -> User:
    return make.member("buyer", place, sees_cost=True)


def work_out() -> None:
    ask_finding(Finding.Kind.PAR_TIPS, by=None, at=AT)
    assert find_if_asked(clock=lambda: AT)


def shown(person: User) -> str:
    response = signed_in(person).get(PAGE)
    assert response.status_code == 200
    return text_of(response)


def press(client: Client, key: str = "k") -> Any:
    page = text_of(client.get(PAGE))
    hidden = {name: page.split(f'name="{name}" value="')[1].split('"')[0] for name in
              ("worked_out", "as_read")}  # fmt: skip
    return post(client, f"{PAGE}LEEK/adopt/", key, **hidden)


def test_at_first_it_says_that_nothing_was_worked_out(buyer: User) -> None:
    assert "No tips have been worked out yet." in shown(buyer)


def test_a_press_asks_and_the_tick_answers(buyer: User) -> None:
    assert post(signed_in(buyer), f"{PAGE}ask/").status_code == 302
    assert "It waits for the worker." in shown(buyer)
    find_if_asked(clock=lambda: AT)
    page = shown(buyer)
    assert "never ran out in 8 deliveries" in page
    assert "12 kg" in page
    assert "USD" in page


def test_without_the_right_to_see_cost_there_is_no_money(place: Location) -> None:
    work_out()
    page = shown(make.member("buyer", place))
    assert "thrown away" in page
    assert "USD" not in page


def test_one_press_adopts(buyer: User) -> None:
    work_out()
    client = signed_in(buyer)
    assert press(client).status_code == 302
    assert "Set as tipped: 1" in shown(buyer)
    assert Par.objects.get(weekday=1).par == 12


def test_what_was_adopted_is_put_back_by_a_press(buyer: User) -> None:
    work_out()
    client = signed_in(buyer)
    press(client)
    page = shown(buyer)
    assert "before it was every day 40 kg" in page
    assert "Set as tipped: 1" in page
    as_read = page.split('name="as_read" value="')[1].split('"')[0]
    answer = post(client, f"{PAGE}LEEK/back/", "u", as_read=as_read)
    assert answer.status_code == 302
    assert {row.weekday: row.par for row in Par.objects.all()} == {None: Decimal(40)}
    page = text_of(client.get(PAGE))
    assert "The pars are put back as they were" in page
    assert "adopt the tip" in page


def test_staff_do_not_put_back(buyer: User, place: Location) -> None:
    work_out()
    press(signed_in(buyer))
    staff = signed_in(make.member("staff", place))
    assert "put it back" not in text_of(staff.get(PAGE))
    assert post(staff, f"{PAGE}LEEK/back/", "u", as_read="x").status_code == 404


def test_a_press_returns_to_the_part_that_is_being_worked_through(buyer: User) -> None:
    work_out()
    client = signed_in(buyer)
    page = text_of(client.get(PAGE))
    hidden = {name: page.split(f'name="{name}" value="')[1].split('"')[0] for name in
              ("worked_out", "as_read", "group")}  # fmt: skip
    answer = post(client, f"{PAGE}LEEK/adopt/", "k", **hidden)
    assert answer.url == f"{PAGE}#less_waste"
    elsewhere = post(client, f"{PAGE}LEEK/adopt/", "k2", **{**hidden, "group": "//evil.example"})
    assert "evil" not in elsewhere.get("Location", "")


def test_tips_stand_under_what_they_are_good_for(buyer: User) -> None:
    work_out()
    page = shown(buyer)
    assert 'aria-labelledby="head-less_waste"' in page
    assert "Would throw away less" in page
    Par.objects.update(par=20)
    Item.objects.update(shelf_life_days=30)
    work_out()
    page = shown(buyer)
    assert "Would do as well with another stock on the shelf: 1" in page
    assert "As set and as tipped: never ran out in 16 deliveries, nothing thrown away." in page
    Par.objects.update(par=4)
    work_out()
    assert "Would run out less often" in shown(buyer)


def test_a_stale_press_shows_the_page_again(buyer: User) -> None:
    work_out()
    typed = {"worked_out": "0", "as_read": "x"}
    response = post(signed_in(buyer), f"{PAGE}LEEK/adopt/", **typed)
    assert response.status_code == 409
    assert "worked out again since you opened this page" in text_of(response)


def test_staff_read_but_have_nothing_to_press(place: Location) -> None:
    work_out()
    page = shown(make.member("staff", place))
    assert "12 kg" in page
    assert "adopt the tip" not in page


def test_the_table_of_pars_carries_the_tip(buyer: User) -> None:
    assert "Tue 12 kg" not in text_of(signed_in(buyer).get("/pars/MILL/"))
    work_out()
    assert "Tue 12 kg, Fri " in text_of(signed_in(buyer).get("/pars/MILL/"))


def test_queries_do_not_grow(
    place: Location, buyer: User, count_queries: Callable[..., int]
) -> None:
    work_out()
    client = signed_in(buyer)
    few = count_queries(client.get, PAGE)
    supplier = Par.objects.get().item.offers.get().supplier
    for _ in range(8):
        item = make.item()
        Price.objects.create(offer=make.offer(item=item, supplier=supplier), price=9)
        Par.objects.create(location=place, item=item, par=20, basis=Par.Basis.FIXED)
        use(place, item)
    work_out()
    assert shown(buyer).count("adopt the tip<") == 9
    assert count_queries(client.get, PAGE) == few
