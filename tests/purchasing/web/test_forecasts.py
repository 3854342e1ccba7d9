"""The page of forecasts: asked for, worked out from the house's own sales, said in words."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.utils import timezone

from inventory.engine.demand.plain import same_weekday_mean
from inventory.models import Location, Sale
from purchasing.models import Finding
from purchasing.selectors import forecast_record as selector
from purchasing.selectors.forecast_record import forecast_record
from purchasing.services.findings import ask_finding, find_if_asked
from tests import factories as make
from tests.purchasing.services.tip_kitchen import AT, DAY, sell
from tests.purchasing.web.shelf import post, signed_in, text_of

pytestmark = pytest.mark.django_db
PAGE = "/forecasts/"


@pytest.fixture
def place() -> Location:
    there = make.location(code="VAN", name="Green van", kind="truck")
    sell(there, make.item(code="SOUP", kind="menu", unit="each"))
    return there


@pytest.fixture
def owner() -> User:
    return make.member("owner", sees_cost=True)


def shown(person: User) -> str:
    response = signed_in(person).get(PAGE)
    assert response.status_code == 200
    return text_of(response)


def work_out() -> None:
    ask_finding(Finding.Kind.FORECASTS, by=None, at=AT)
    find_if_asked(clock=lambda: AT)


def test_a_press_asks_and_the_tick_answers(place: Location, owner: User) -> None:
    assert "Nothing has been worked out yet." in shown(owner)
    assert post(signed_in(owner), f"{PAGE}ask/").status_code == 302
    page = shown(owner)
    assert "It waits for the worker." in page
    assert "look-again.js" in page
    assert 'action="/forecasts/ask/"' not in page
    find_if_asked(clock=lambda: AT)
    page = shown(owner)
    assert "our forecast" in page
    assert "Green van" in page
    assert page.count('<svg class="bar"') == 4
    assert page.count("<polyline") == 2 * 3
    assert "look-again.js" not in page


def test_a_worker_that_is_gone_is_named_so(place: Location, owner: User) -> None:
    ask_finding(Finding.Kind.FORECASTS, by=None, at=AT)
    Finding.objects.update(claimed_until=timezone.now() + timedelta(minutes=1))
    assert "It takes a minute or two; the answer will stand here." in shown(owner)
    Finding.objects.update(claimed_until=timezone.now() - timedelta(minutes=1))
    assert "The worker that was at it is gone; the next one begins again." in shown(owner)


def test_days_without_anything_sold_out_have_no_second_table(owner: User) -> None:
    there = make.location(code="VAN", name="Green van", kind="truck")
    sell(there, make.item(code="SOUP", kind="menu", unit="each"))
    Sale.objects.update(sold_out_at=None)
    work_out()
    page = shown(owner)
    assert "Nothing was marked as sold out on these days" in page
    assert "when more might have been sold" not in page


def test_days_sold_out_are_counted_apart(place: Location) -> None:
    answer = forecast_record(DAY)
    assert answer["sold_out_days"] == 1
    assert answer["all"]["ours"]["days"] == 56
    assert answer["not_sold_out"]["ours"]["days"] == 55


def test_demand_without_surprises_is_forecast_without_errors(place: Location) -> None:
    scores = forecast_record(DAY)["all"]
    assert scores["ours"]["wape"] < 0.05
    assert scores["last_week"]["wape"] == 0


def test_every_week_says_what_was_sold(place: Location) -> None:
    assert [week["sold"] for week in forecast_record(DAY)["weeks"]] == [160.0] * 8


def test_too_few_sales_are_said(owner: User) -> None:
    work_out()
    assert "days of sales are needed" in shown(owner)


def test_people_of_one_place_see_their_place_only(place: Location) -> None:
    work_out()
    page = shown(make.member("manager", place))
    assert "Green van" in page
    assert "All places together" not in page
    other = shown(make.member("manager", make.location()))
    assert "Green van" not in other


def test_staff_do_not_find_it(place: Location) -> None:
    assert signed_in(make.member("staff", place)).get(PAGE).status_code == 404


def test_a_method_of_a_library_stands_beside_where_it_is_installed(
    place: Location, owner: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    work_out()
    assert "exponential smoothing" not in shown(owner)
    installed = {"exponential_smoothing": same_weekday_mean}
    monkeypatch.setattr(selector, "library_methods", lambda: installed)
    work_out()
    page = shown(owner)
    assert page.count(">exponential smoothing, by a library</th>") == 2
    assert page.count('<svg class="bar"') == 5
