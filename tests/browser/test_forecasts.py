"""The owner reads how good the forecasts were: asks, waits, reads sentences, picture and tables,
wide and narrow, with and without script."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from inventory.models import Location, Sale
from purchasing.models import Finding
from purchasing.services.findings import ask_finding, find_if_asked
from tests import factories as make
from tests.browser.conftest import PHONE
from tests.browser.parts import SCRIPT, WIDTHS, Browse, is_sound, nothing_is_cut
from tests.purchasing.services.tip_kitchen import AT, sell

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGE = "/forecasts/"
METHODS = [
    "our forecast",
    "the last four such days",
    "the same day last week",
    "half a year of that weekday",
]


@pytest.fixture
def van() -> Location:
    """Twenty soups a day, forty on Saturdays, once sold out."""
    there = make.location(code="VAN", name="Green van", kind="truck")
    sell(there, make.item(code="SOUP", name="Soup", kind="menu", unit="each"))
    return there


@pytest.fixture
def ottilie(van: Location) -> User:
    return make.member("owner", sees_cost=True)


def work_out() -> None:
    ask_finding(Finding.Kind.FORECASTS, by=None, at=AT)
    find_if_asked(clock=lambda: AT)


def rows(table: Locator) -> dict[str, list[str]]:
    """Figures by method."""
    return {
        row.locator("th").inner_text(): [cell.inner_text() for cell in row.locator("td").all()]
        for row in table.locator("tbody tr").all()
    }


@WIDTHS
@SCRIPT
def test_from_asking_to_reading(ottilie: User, browse: Browse, width: int, script: bool) -> None:
    page = browse(ottilie, width, script)
    page.goto(PAGE)
    expect(page.get_by_text("Nothing has been worked out yet.")).to_be_visible()
    page.get_by_role("button", name="work it out").click()
    expect(page.get_by_text("It waits for the worker.")).to_be_visible()
    nothing_is_cut(page)
    find_if_asked(clock=lambda: AT)
    page.get_by_role("link", name="look again").click()
    found = (Finding.objects.get().answer or {})["all"]
    best = round(found["ours"]["wape"] * 100)
    expect(page.locator(".told").first).to_contain_text(f"our forecast was off by {best}")
    every_day = page.locator("table", has_text="On all days")
    assert list(rows(every_day)) == METHODS
    assert rows(every_day)["the same day last week"][0] == "0"
    without = page.locator("table", has_text="Without the 1 figures of days on which something")
    assert list(rows(without)) == METHODS
    expect(page.locator("table", has_text="Our forecast by place")).to_contain_text("Green van")
    expect(page.locator(".bars li")).to_have_count(4)
    expect(page.locator(".graph polyline")).to_have_count(3)
    _each_figure_says_what_it_is(page, every_day, width)
    nothing_is_cut(page)


def _each_figure_says_what_it_is(page: Page, table: Locator, width: int) -> None:
    """By the head of its column, and where that is gone by a word before it."""
    cell = table.locator("tbody td").first
    before = cell.evaluate("one => getComputedStyle(one, '::before').content")
    assert ("off, of 100 sold" in before) is (width == PHONE)
    page.get_by_text("what the columns mean").click()
    expect(page.get_by_text("how far each day's forecast was from what was sold")).to_be_visible()


def test_with_script_the_answer_comes_by_itself(ottilie: User, browse: Browse) -> None:
    page = browse(ottilie, PHONE)
    page.goto(PAGE)
    page.get_by_role("button", name="work it out").click()
    find_if_asked(clock=lambda: AT)
    expect(page.get_by_role("heading", name="All places together")).to_be_visible(timeout=15_000)


@WIDTHS
def test_a_worker_that_does_not_come_is_said(ottilie: User, browse: Browse, width: int) -> None:
    ask_finding(Finding.Kind.FORECASTS, by=None, at=timezone.now() - timedelta(minutes=9))
    page = browse(ottilie, width, False)
    page.goto(PAGE)
    expect(page.get_by_text("Nobody has begun it for 9 minutes")).to_be_visible()
    nothing_is_cut(page)


def test_too_few_sales_are_said(ottilie: User, browse: Browse) -> None:
    Sale.objects.all().delete()
    work_out()
    page = browse(ottilie, PHONE, False)
    page.goto(PAGE)
    expect(page.locator(".caution")).to_contain_text("days of sales are needed")
    expect(page.get_by_role("button", name="work it out again")).to_be_visible()


def test_a_manager_of_one_place_reads_that_place(
    ottilie: User, van: Location, browse: Browse
) -> None:
    work_out()
    page = browse(make.member("manager", van), PHONE)
    page.goto(PAGE)
    expect(page.get_by_role("rowheader", name="Green van")).to_be_visible()
    expect(page.get_by_text("All places together")).to_have_count(0)
    other = browse(make.member("manager", make.location()), PHONE)
    other.goto(PAGE)
    expect(other.get_by_text("Green van")).to_have_count(0)


@WIDTHS
def test_the_page_is_sound_and_prints(ottilie: User, browse: Browse, width: int) -> None:
    page = browse(ottilie, width)
    page.goto(PAGE)
    is_sound(page)
    work_out()
    page.goto(PAGE)
    is_sound(page)
    page.emulate_media(media="print")
    expect(page.get_by_text("On all days")).to_be_visible()
    expect(page.get_by_role("button", name="work it out again")).to_be_hidden()
