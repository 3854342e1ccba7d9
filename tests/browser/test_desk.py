"""The desk's jobs in a browser: from signing in to done, wide and narrow, with and without
script, and with the keyboard alone."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from inventory.engine.allergens import US9
from inventory.models import AllergenWord, Event, Item, Location
from purchasing.exchange.workbook import save_workbook
from purchasing.models import Par, Price
from tests import factories as make
from tests.browser.conftest import DESK
from tests.browser.parts import PASSWORD, SCRIPT, WIDTHS, Browse, fits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def boss() -> User:
    user = make.member("owner", sees_cost=True)
    user.username, user.first_name = "ines", "Ines"
    user.set_password(PASSWORD)
    user.save()
    return user


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def leek(place: Location) -> Item:
    item = make.item(code="LEEK", name="Leeks", unit="kg", shelf_life_days=9, storage="chilled")
    offer = make.offer(item=item, supplier=make.supplier(email="orders@example.org"))
    Price.objects.create(offer=offer, price=Decimal("9.5"))
    make.lot(2500, at=place, of=item, unit_cost=Decimal("0.002"))
    Par.objects.create(location=place, item=item, par=12, basis="fixed")
    return item


def save(page: Page) -> None:
    page.get_by_role("button", name="save", exact=True).click()


@WIDTHS
@SCRIPT
def test_sign_in_find_an_item_and_state_its_allergens(
    boss: User, leek: Item, browse: Browse, width: int, script: bool
) -> None:
    page = browse(None, width, script)
    page.goto("/items/")
    page.get_by_label("Name").fill("ines")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="sign in").click()
    page.get_by_label("Name or code").fill("lee")
    page.get_by_role("button", name="find").click()
    page.get_by_role("link", name="Leeks").click()
    expect(page.get_by_text("treat it as if it were in there")).to_be_visible()
    fits(page)
    page.get_by_role("link", name="change this item").click()
    fits(page)
    for allergen in US9:
        page.get_by_role("radio", name=f"{allergen} free from", exact=True).check()
    page.get_by_label("Life as received or made").fill("soon")
    save(page)
    expect(page.get_by_role("alert")).to_contain_text("'soon' is not a number")
    expect(page.get_by_role("radio", name="milk free from")).to_be_checked()
    page.get_by_label("Life as received or made").fill("7")
    save(page)
    expect(page.get_by_role("status")).to_contain_text("Leeks is changed.")
    expect(page.get_by_text("Not stated")).to_have_count(0)
    assert AllergenWord.objects.filter(item=leek, says="free").count() == len(US9)


@WIDTHS
@SCRIPT
def test_set_a_par_for_fridays(
    boss: User, leek: Item, browse: Browse, width: int, script: bool
) -> None:
    page = browse(boss, width, script)
    page.goto("/pars/")
    page.get_by_role("link", name="Leeks").click()
    page.get_by_label("Friday: par").fill("twenty")
    page.get_by_label("Friday: what decides").select_option("fixed")
    save(page)
    expect(page.get_by_role("alert")).to_contain_text("Friday. Par: 'twenty' is not a number")
    fits(page)
    page.get_by_label("Friday: par").fill("20")
    save(page)
    expect(page.get_by_role("status")).to_contain_text("Pars of Leeks at Mill Lane are set")
    fits(page)
    assert Par.objects.get(weekday=4).par == 20


@WIDTHS
@SCRIPT
def test_mend_the_first_thing_that_is_not_ready(
    boss: User, leek: Item, browse: Browse, width: int, script: bool
) -> None:
    page = browse(boss, width, script)
    page.goto("/not-ready/")
    fits(page)
    expect(page.get_by_role("heading", name="Allergens not stated: 1")).to_be_visible()
    page.get_by_role("link", name="mend the first").click()
    for allergen in US9:
        page.get_by_role("radio", name=f"{allergen} free from", exact=True).check()
    save(page)
    page.goto("/not-ready/")
    expect(page.get_by_text("Nothing is missing that would block a promise.")).to_be_visible()


@WIDTHS
@SCRIPT
def test_invite_somebody_who_sets_a_password_and_signs_in(
    boss: User, place: Location, browse: Browse, width: int, script: bool
) -> None:
    page = browse(boss, width, script)
    page.goto("/people/")
    fits(page)
    page.get_by_role("link", name="invite somebody").click()
    page.get_by_label("First name").fill("Wen")
    page.get_by_label("Signs in as").fill("wen")
    page.get_by_label("What they do").select_option("staff")
    page.get_by_label("Where").select_option("MILL")
    fits(page)
    page.get_by_role("button", name="invite").click()
    address = page.locator(".secret").inner_text()
    fits(page)
    theirs = browse(None, width, script)
    theirs.goto(address)
    theirs.get_by_label("Password").fill(PASSWORD)
    theirs.get_by_label("The same again").fill(PASSWORD)
    theirs.get_by_role("button", name="set it").click()
    theirs.get_by_label("Name").fill("wen")
    theirs.get_by_label("Password").fill(PASSWORD)
    theirs.get_by_role("button", name="sign in").click()
    expect(theirs.get_by_role("heading", name="The pass")).to_be_visible()


@WIDTHS
@SCRIPT
def test_see_in_the_log_who_changed_what(
    boss: User, leek: Item, browse: Browse, width: int, script: bool
) -> None:
    Event.objects.create(
        at=make.NOW, by=boss, verb="change", subject="item:LEEK", changes={"unit": ["lb", "kg"]}
    )
    Event.objects.create(at=make.NOW, verb="hold", subject="lot:KALUM")
    page = browse(boss, width, script)
    page.goto("/log/")
    fits(page)
    page.get_by_label("Who").select_option("ines")
    page.get_by_role("button", name="filter").click()
    expect(page.get_by_text("unit: lb, now kg")).to_be_visible()
    expect(page.get_by_text("lot KALUM")).to_have_count(0)
    page.get_by_role("link", name="item LEEK").click()
    expect(page.get_by_role("heading", name="Leeks", level=1)).to_be_visible()


@WIDTHS
@SCRIPT
def test_take_the_workbook_out_and_bring_it_in(
    boss: User, leek: Item, browse: Browse, width: int, script: bool, tmp_path: Path
) -> None:
    path = tmp_path / "kitchen.xlsx"
    save_workbook(path)
    Item.objects.update(name="Something else")
    page = browse(boss, width, script)
    page.goto("/workbook/")
    fits(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="all data as a workbook").click()
    assert download.value.suggested_filename.endswith(".xlsx")
    page.get_by_label("Workbook, .xlsx").set_input_files(path)
    page.get_by_role("button", name="look at it").click()
    expect(page.get_by_role("heading", name="kitchen.xlsx can be loaded")).to_be_visible()
    fits(page)
    page.get_by_role("button", name="load it").click()
    expect(page.get_by_role("status")).to_contain_text("kitchen.xlsx is loaded: 1 rows")
    assert Item.objects.get().name == "Leeks"


def press_until(page: Page, key: str, name: str, most: int = 120) -> None:
    """Tab on until the thing of that name has the focus."""
    for _ in range(most):
        page.keyboard.press(key)
        focused = page.evaluate(
            "(e => (e.labels && e.labels[0] ? e.labels[0].innerText : e.innerText || '').trim())"
            "(document.activeElement)"
        )
        if focused == name:
            return
    raise AssertionError(f"the keyboard does not reach “{name}”")


def test_an_item_is_changed_with_the_keyboard_alone(boss: User, leek: Item, browse: Browse) -> None:
    page = browse(boss, DESK)
    page.goto("/items/LEEK/")
    press_until(page, "Tab", "change this item")
    page.keyboard.press("Enter")
    page.wait_for_url("**/change/")
    press_until(page, "Tab", "Life as received or made")
    page.keyboard.press("Control+A")
    page.keyboard.type("7")
    press_until(page, "Tab", "save")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Leeks is changed.")


def test_somebody_is_invited_with_the_keyboard_alone(
    boss: User, place: Location, browse: Browse
) -> None:
    page = browse(boss, DESK)
    page.goto("/people/")
    press_until(page, "Tab", "invite somebody")
    page.keyboard.press("Enter")
    page.wait_for_url("**/invite/")
    for label, typed in (("First name", "Wen"), ("Signs in as", "wen"), ("What they do", "comm")):
        press_until(page, "Tab", label)
        page.keyboard.type(typed)
    page.keyboard.press("Tab")
    press_until(page, "Tab", "invite")
    page.keyboard.press("Enter")
    expect(page.locator(".secret")).to_be_visible()


@WIDTHS
@pytest.mark.parametrize(
    "address",
    [
        "/items/",
        "/items/LEEK/",
        "/items/LEEK/change/",
        "/add-item/",
        "/pars/MILL/",
        "/pars/MILL/LEEK/",
        "/not-ready/",
        "/people/",
        "/people/ines/",
        "/invite/",
        "/log/",
        "/workbook/",
    ],
)
def test_everybody_can_read_and_work_the_page(
    boss: User, leek: Item, browse: Browse, width: int, address: str
) -> None:
    page = browse(boss, width)
    page.goto(address)
    fits(page)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize(
    ("address", "words"),
    [("/pars/MILL/", "Pars of Mill Lane"), ("/log/", "Who did what"), ("/items/LEEK/", "Leeks")],
)
def test_pages_print_without_buttons(
    boss: User, leek: Item, browse: Browse, address: str, words: str
) -> None:
    page = browse(boss, DESK)
    page.goto(address)
    page.emulate_media(media="print")
    expect(page.get_by_text(words).first).to_be_visible()
    for button in page.locator(".act, .second, .plain").all():
        expect(button).to_be_hidden()
