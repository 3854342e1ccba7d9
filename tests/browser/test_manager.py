"""A manager saves what would be lost, answers a recall call and takes out waste: from signing in
to done, wide and narrow, with and without script, and with the keyboard alone."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Hold, Location, Lot, Movement, OnHand
from purchasing.services.use_by_looks import look_if_due
from tests import factories as make
from tests.browser.conftest import DESK, PHONE
from tests.browser.parts import PASSWORD, SCRIPT, WIDTHS, Browse, fits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SMALLEST = 44


@pytest.fixture
def marisol() -> User:
    person = make.member("manager", sees_cost=True)
    person.username, person.first_name = "marisol", "Marisol"
    person.set_password(PASSWORD)
    person.save()
    return person


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL", name="Mill Lane")


@pytest.fixture
def leeks(place: Location) -> Lot:
    """Five kilograms that nobody will use by tomorrow, worked out this minute."""
    now = timezone.now()
    item = make.item(name="Leeks", may_freeze=True)
    lot = make.lot(
        5000,
        at=place,
        of=item,
        when=now - timedelta(days=1),
        use_by=now.date() + timedelta(days=1),
        unit_cost=Decimal("0.004"),
        supplier_lot="L-7",
    )
    assert look_if_due(at=timezone.now())
    return lot


@WIDTHS
@SCRIPT
def test_from_signing_in_to_a_lot_that_is_saved(
    marisol: User, leeks: Lot, browse: Browse, width: int, script: bool
) -> None:
    page = browse(None, width, script)
    page.goto("/use-by/")
    page.get_by_label("Name").fill("marisol")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="sign in").click()
    expect(page.get_by_text("5 kg will not be used in time: all but certain")).to_be_visible()
    fits(page)
    page.get_by_role("button", name="freeze 5 kg saves 20.00").click()
    part = Lot.objects.get(parent=leeks)
    expect(page.get_by_role("status")).to_have_text(
        f"5 kg of {leeks.strip} is frozen as {part.strip}; print its label."
    )
    assert (part.state, OnHand.objects.get(lot=part).qty) == ("frozen", Decimal(5000))
    page.goto(f"/lots/{part.strip}/")
    expect(page.get_by_text("its clock stands, no date is due")).to_be_visible()
    fits(page)


@WIDTHS
@SCRIPT
def test_a_recall_call_is_answered(
    marisol: User, leeks: Lot, browse: Browse, width: int, script: bool
) -> None:
    """The lot, its trace, held everywhere, and released when the supplier rings back."""
    page = browse(marisol, width, script)
    page.goto(f"/lots/{leeks.strip}/")
    page.get_by_role("link", name="trace it").click()
    expect(page.get_by_text("lot code L-7")).to_be_visible()
    expect(page.get_by_text("accounted for: it adds up")).to_be_visible()
    fits(page)
    page.get_by_role("button", name="hold everywhere").click()
    expect(page.get_by_role("status")).to_have_text(f"{leeks.strip} is on hold.")
    page.goto("/holds/")
    fits(page)
    page.get_by_role("button", name="release").click()
    expect(page.get_by_role("alert")).to_contain_text("Say why Leeks")
    page.get_by_label("why it may be used again").fill("Ferry Road: other batch")
    page.get_by_role("button", name="release").click()
    expect(page.get_by_role("status")).to_have_text(f"{leeks.strip} may be used again.")
    assert Hold.objects.get().closed_at is not None


@SCRIPT
def test_waste_takes_three_touches(marisol: User, leeks: Lot, browse: Browse, script: bool) -> None:
    page = browse(marisol, PHONE, script)
    page.goto("/take-out/")
    fits(page)
    page.get_by_role("link", name=leeks.strip).click()  # what
    fits(page)
    page.get_by_label("how much").fill("2")  # how much
    page.get_by_role("button", name="spoiled").click()  # why
    expect(page.get_by_role("status")).to_have_text(f"2 kg of {leeks.strip} is taken out: spoiled.")
    assert Movement.objects.get(kind="take_out").qty == -2000


def test_with_the_keyboard_alone(marisol: User, leeks: Lot, browse: Browse) -> None:
    """Along the board to the help, and pressed."""
    page = browse(marisol, DESK)
    page.goto("/use-by/")
    for _ in range(40):
        page.keyboard.press("Tab")
        told = page.evaluate("document.activeElement.textContent.trim()")
        if told.startswith("freeze"):
            break
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("is frozen as")


def test_a_press_that_comes_too_late(marisol: User, leeks: Lot, browse: Browse) -> None:
    page = browse(marisol, PHONE)
    page.goto("/use-by/")
    OnHand.objects.update(qty=0)
    page.get_by_role("button", name="freeze 5 kg").click()
    expect(page.get_by_role("alert")).to_contain_text("somebody was quicker")
    fits(page)


@WIDTHS
def test_pages_of_lots_are_sound(
    marisol: User, leeks: Lot, browse: Browse, width: int, place: Location
) -> None:
    """No fault that axe-core knows, and what is pressed is large enough for wet hands."""
    page = browse(marisol, width)
    strip = leeks.strip
    for address in (
        "/use-by/",
        f"/lots/{strip}/",
        f"/lots/{strip}/trace/",
        "/holds/",
        "/take-out/",
        f"/take-out/?lot={strip}&at={place.code}",
    ):
        page.goto(address)
        fits(page)
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}\n{found.generate_report()}"
        small = [
            button.inner_text()
            for button in page.locator("main button:visible, main input:visible, select").all()
            if (box := button.bounding_box()) and box["height"] < SMALLEST
        ]
        assert small == [], address
