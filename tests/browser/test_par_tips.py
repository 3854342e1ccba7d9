"""A buyer looks at tips for pars: asks, reads what each would have done, adopts one by a press,
puts it back; wide and narrow, with and without script, and with two people at once."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from inventory.models import Event, Item, Location
from purchasing.models import Finding, Par, Price
from purchasing.services.findings import ask_finding, find_if_asked
from tests import factories as make
from tests.browser.conftest import DESK, PHONE
from tests.browser.parts import SCRIPT, WIDTHS, Browse, fits, is_sound, nothing_is_cut
from tests.purchasing.services.tip_kitchen import AT, kitchen, use

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGE = "/par-tips/MILL/"


@pytest.fixture
def place() -> Location:
    """Leeks that keep three days, 4 kg a day, on a par of 40 kg: far too many."""
    return kitchen(life=3)[0]


@pytest.fixture
def bram(place: Location) -> User:
    person = make.member("buyer", place, sees_cost=True)
    person.first_name = "Bram"
    person.save()
    return person


def work_out() -> None:
    ask_finding(Finding.Kind.PAR_TIPS, by=None, at=AT)
    find_if_asked(clock=lambda: AT)


def pars() -> dict[int | None, Decimal | None]:
    return {row.weekday: row.par for row in Par.objects.filter(item__code="LEEK")}


def adopt(page: Page) -> None:
    page.get_by_role("button", name="adopt the tip for Leeks").click()


@WIDTHS
@SCRIPT
def test_from_asking_to_a_par_that_is_set_and_put_back(
    bram: User, browse: Browse, width: int, script: bool
) -> None:
    page = browse(bram, width, script)
    page.goto("/pars/MILL/")
    nothing_is_cut(page)
    page.get_by_role("link", name="Pars that would have lasted").click()
    expect(page.get_by_text("No tips have been worked out yet.")).to_be_visible()
    page.get_by_role("button", name="work out tips").click()
    expect(page.get_by_text("It waits for the worker.")).to_be_visible()
    expect(page.get_by_role("button", name="work out tips")).to_have_count(0)
    find_if_asked(clock=lambda: AT)
    page.goto(PAGE)
    expect(page.get_by_role("heading", name="Would throw away less")).to_be_visible()
    for words in (
        "Tue now 40 kg, tip 12 kg: never ran out in 8 deliveries, 32 kg thrown away = 38.40 USD",
        "As set: never ran out in 16 deliveries, 256 kg thrown away = 307.20 USD.",
        "As tipped: never ran out in 16 deliveries, 96 kg thrown away = 115.20 USD.",
    ):
        expect(page.get_by_text(words).first).to_be_visible()
    nothing_is_cut(page)
    assert pars() == {None: 40}  # nothing by itself
    adopt(page)
    expect(page.get_by_role("status")).to_contain_text("The pars are set as tipped")
    assert pars() == {None: 40, 1: 12, 4: 20}
    page.locator("summary", has_text="Set as tipped: 1").click()
    expect(page.get_by_text("by Bram; before it was every day 40 kg")).to_be_visible()
    nothing_is_cut(page)
    page.get_by_role("button", name="put it back for Leeks").click()
    expect(page.get_by_role("status")).to_contain_text("put back as they were")
    assert pars() == {None: 40}
    expect(page.get_by_role("button", name="adopt the tip for Leeks")).to_be_visible()
    assert Event.objects.filter(subject="par:MILL:LEEK", by=bram).count() == 2


@WIDTHS
def test_of_two_who_adopt_at_once_one_is_told(
    bram: User, place: Location, browse: Browse, width: int
) -> None:
    work_out()
    ines = make.manager(place)
    first, second = browse(bram, width, False), browse(ines, width, False)
    for page in (first, second):
        page.goto(PAGE)
    adopt(first)
    adopt(second)
    expect(second.get_by_role("alert")).to_contain_text("Somebody changed the pars of Leeks")
    fits(second)
    expect(second.locator("summary", has_text="Set as tipped: 1")).to_be_visible()
    assert Event.objects.filter(subject="par:MILL:LEEK").count() == 1


def test_tips_worked_out_again_meanwhile_are_looked_at_first(bram: User, browse: Browse) -> None:
    work_out()
    page = browse(bram, PHONE, False)
    page.goto(PAGE)
    Finding.objects.all().delete()
    Item.objects.filter(code="LEEK").update(shelf_life_days=9)
    work_out()
    adopt(page)
    expect(page.get_by_role("alert")).to_contain_text("worked out again since you opened")
    assert pars() == {None: 40}
    adopt(page)
    assert pars() == {None: 40, 1: 12, 4: 16}


@WIDTHS
@SCRIPT
def test_many_tips_that_change_little_are_folded_and_stay_open_while_worked_through(
    bram: User, place: Location, browse: Browse, width: int, script: bool
) -> None:
    Item.objects.update(shelf_life_days=30)
    Par.objects.update(par=20)
    supplier = Item.objects.get().offers.get().supplier
    for number in range(12):
        item = make.item(name=f"Dry goods {number:02}", unit="kg")
        Price.objects.create(offer=make.offer(item=item, supplier=supplier), price=9)
        Par.objects.create(location=place, item=item, par=20, basis=Par.Basis.FIXED)
        use(place, item)
    work_out()
    page = browse(bram, width, script)
    page.goto(PAGE)
    summary = page.locator("summary", has_text="Would do as well with another stock on the shelf")
    expect(summary).to_contain_text(": 13")
    expect(page.get_by_role("button", name="adopt the tip for Leeks")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollHeight") < 2 * 844
    summary.click()
    nothing_is_cut(page)
    adopt(page)
    expect(page.get_by_role("status")).to_contain_text("The pars are set as tipped")
    expect(page.get_by_role("button", name="adopt the tip for Dry goods 00")).to_be_visible()


def test_staff_read_and_press_nothing(place: Location, browse: Browse) -> None:
    work_out()
    page = browse(make.member("staff", place), PHONE)
    page.goto(PAGE)
    expect(page.get_by_text("tip 12 kg").first).to_be_visible()
    expect(page.get_by_text("USD")).to_have_count(0)
    expect(page.locator("main").get_by_role("button")).to_have_count(0)


@WIDTHS
def test_the_pages_are_sound(bram: User, browse: Browse, width: int) -> None:
    work_out()
    page = browse(bram, width)
    for address in (PAGE, "/pars/MILL/"):
        page.goto(address)
        is_sound(page)
    page.goto(PAGE)
    adopt(page)
    page.locator("summary", has_text="Set as tipped").click()
    is_sound(page)


def test_a_tip_is_adopted_with_the_keyboard_alone(bram: User, browse: Browse) -> None:
    work_out()
    page = browse(bram, DESK)
    page.goto(PAGE)
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent").startswith("adopt the tip"):
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("The pars are set as tipped")
