"""Pages that are long in a real kitchen: what is unsafe is seen at once, the rest is a press or a
word away, and paper carries all of it; on a phone and at the desk."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.models import AllergenWord, Item, Location
from purchasing.models import Par
from purchasing.services.use_by_looks import look_if_due
from tests import factories as make
from tests.browser.conftest import DESK, PHONE
from tests.browser.parts import SCRIPT, WIDTHS, Browse, is_sound, nothing_is_cut

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SCREEN = 844  # px, a phone's


@pytest.fixture
def ines(transactional_db: None) -> User:
    return make.member("owner", sees_cost=True)


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


def height(page: Page) -> int:
    return int(page.evaluate("document.documentElement.scrollHeight"))


@WIDTHS
@SCRIPT
def test_sixty_items_of_which_one_is_not_stated(
    ines: User, browse: Browse, width: int, script: bool
) -> None:
    for number in range(60):
        make.item(name=f"Box {number:02}", kind="packaging")
    make.item(name="Tahini")
    page = browse(ines, width, script)
    page.goto("/items/")
    expect(page.get_by_role("link", name="Tahini").first).to_be_visible()
    expect(
        page.get_by_text("One item has allergens not stated: ask before serving")
    ).to_be_visible()
    expect(page.get_by_role("link", name="Box 07")).to_be_hidden()
    assert height(page) <= 2 * SCREEN
    page.locator("summary", has_text="What we buy: 61").click()
    expect(page.get_by_role("link", name="Box 07")).to_be_visible()
    nothing_is_cut(page)
    page.get_by_label("Name or code").fill("box 3")
    page.get_by_role("button", name="find").click()
    expect(page.get_by_role("link", name="Box 39")).to_be_visible()  # what is found is not folded
    assert not AllergenWord.objects.exists()


@WIDTHS
@SCRIPT
def test_pars_of_many_items_are_read_in_words_where_it_is_narrow(
    ines: User, place: Location, browse: Browse, width: int, script: bool
) -> None:
    for number in range(40):
        item = make.item(name=f"Herb {number:02}")
        Par.objects.create(location=place, item=item, basis=Par.Basis.FORECAST)
    rice = make.item(name="Rice", unit="kg")
    Par.objects.create(location=place, item=rice, par=Decimal(12), basis=Par.Basis.FIXED)
    Par.objects.create(location=place, item=rice, par=20, weekday=4, basis=Par.Basis.FIXED)
    page = browse(ines, width, script)
    page.goto("/pars/MILL/")
    in_words = page.get_by_text("every day 12 kg; Fri 20 kg")
    if width == PHONE:
        expect(in_words).to_be_visible()
    else:
        expect(in_words).to_be_hidden()
        expect(page.get_by_role("row", name="Rice")).to_contain_text("20")
    expect(page.get_by_role("link", name="Herb 07")).to_be_hidden()
    assert height(page) <= 2 * SCREEN
    page.get_by_role("link", name="The forecast decides: 40").click()  # a jump opens its part
    expect(page.get_by_role("link", name="Herb 07")).to_be_visible()
    nothing_is_cut(page)


@pytest.fixture
def board(place: Location) -> str:
    """Twelve dear lots that will not be used, and a cheap one past its use-by: its strip."""
    now = timezone.now()
    facts: dict[str, Any] = {
        "at": place,
        "when": now - timedelta(days=2),
        "unit_cost": Decimal("0.01"),
    }
    for number in range(12):
        item = make.item(name=f"Leeks {number:02}", may_freeze=True)
        make.lot(5000, of=item, use_by=now.date() + timedelta(days=1), **facts)
    gone = make.lot(10, of=make.item(name="Tofu"), use_by=now.date() - timedelta(days=1), **facts)
    assert look_if_due(at=timezone.now())
    return gone.strip


@WIDTHS
@SCRIPT
def test_what_is_unsafe_is_named_above_dearer_lots(
    ines: User, board: str, browse: Browse, width: int, script: bool
) -> None:
    page = browse(ines, width, script)
    page.goto("/use-by/")
    unsafe = page.get_by_role("link", name=f"{board} Tofu, past its use-by")
    box = unsafe.bounding_box()
    assert box is not None and box["y"] < SCREEN
    nothing_is_cut(page)
    unsafe.click()
    throw = page.locator(f"#{board}-MILL").get_by_role("button", name="throw")
    expect(throw).to_be_in_viewport()
    throw.click()
    expect(page.get_by_role("status")).to_contain_text("is taken out: past use-by.")
    expect(page.get_by_text("Not to be used:")).to_have_count(0)


@WIDTHS
def test_other_ways_are_named_and_one_press_further(
    ines: User, board: str, browse: Browse, width: int
) -> None:
    page = browse(ines, width)
    page.goto("/use-by/")
    strip = page.locator("li.board").first
    expect(strip.get_by_role("button", name="freeze 5 kg")).to_be_visible()
    expect(strip.get_by_role("button", name="donate 5 kg")).to_be_hidden()
    summary = strip.locator("summary")
    expect(summary).to_have_text("staff meal, 5 kg; donate 5 kg; throw 5 kg away; hold it")
    summary.click()
    is_sound(page)
    strip.get_by_role("button", name="donate 5 kg").click()
    expect(page.get_by_role("status")).to_contain_text("is taken out: donation.")


@pytest.mark.parametrize(("address", "folded"), [("/items/", "Box 07"), ("/pars/MILL/", "Herb 07")])
def test_paper_carries_what_is_folded(
    ines: User, place: Location, browse: Browse, address: str, folded: str
) -> None:
    for number in range(40):
        make.item(name=f"Box {number:02}", kind="packaging")
        herb = make.item(name=f"Herb {number:02}")
        Par.objects.create(location=place, item=herb, basis=Par.Basis.FORECAST)
    page = browse(ines, DESK)
    page.goto(address)
    one = page.locator("main th", has_text=folded)
    assert one.bounding_box() is None or not one.is_visible()
    page.emulate_media(media="print")
    box = one.bounding_box()
    assert box is not None and box["height"] > 0
    assert Item.objects.count() == 80
