"""The buyer's morning in Chromium: from the pass to an order that has left, at a phone's width
and a desk's, with and without JavaScript, with the keyboard alone; presses are counted."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.core import mail
from django.utils import timezone
from playwright.sync_api import Page

from inventory.models import Location
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.services.sending import send_what_waits
from tests import factories as make
from tests.browser.conftest import DESK, PHONE
from tests.browser.parts import Browse
from tests.purchasing.web.test_orders import draft

pytestmark = pytest.mark.browser


@pytest.fixture
def bram(transactional_db: None) -> User:
    return make.member("buyer", sees_cost=True)


@pytest.fixture
def order(bram: User) -> PurchaseOrder:
    """Leeks and more from Marsh Growers, to the yard, the day after tomorrow."""
    supplier = make.supplier(name="Marsh Growers", email="orders@marsh.example", phone="555-1")
    place: Location = make.location(name="Yard kitchen")
    return draft(2, 3, 4, supplier=supplier, location=place)


def now(order: PurchaseOrder) -> PurchaseOrder:
    return PurchaseOrder.objects.get(pk=order.pk)


def width_of(page: Page) -> float:
    boxes = [one.bounding_box() for one in page.locator("main, .sheet, .due, svg.ruler").all()]
    return max(box["x"] + box["width"] for box in boxes if box)


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
@pytest.mark.parametrize("width", [PHONE, DESK], ids=["phone", "desk"])
def test_from_the_pass_to_an_order_that_has_left(
    browse: Browse, bram: User, order: PurchaseOrder, width: int, script: bool
) -> None:
    page = browse(None, width, script)
    _sign_in(page, bram)
    assert width_of(page) <= width
    page.get_by_role("button", name="approve", exact=True).click()  # touch 1, of at most 2
    page.get_by_text("Approved. It is on order from now on").wait_for()
    assert page.get_by_role("heading", level=1).inner_text().startswith("Marsh Growers")
    assert now(order).status == "approved"
    assert width_of(page) <= width
    page.get_by_role("button", name="send by e-mail").click()
    page.get_by_text("on its way by e-mail to orders@marsh.example").wait_for()
    send_what_waits(at=datetime.now(UTC) + timedelta(seconds=1))
    page.reload()
    assert "by e-mail to orders@marsh.example" in page.locator("main > .state").inner_text()
    assert page.locator("main > .state").inner_text().startswith("approved")
    assert (now(order).status, len(mail.outbox)) == ("sent", 1)


def test_three_becomes_five_with_a_word_why(
    browse: Browse, bram: User, order: PurchaseOrder
) -> None:
    """What follows is seen first, and what was typed is still there to be saved."""
    page = browse(bram, PHONE, False)
    page.goto(f"/orders/{order.number}/")
    line = order.lines.order_by("pk")[1]
    page.locator(f"#cases-{line.pk}").fill("5")
    page.locator(f"#why-{line.pk}").fill("street fair")
    page.get_by_role("button", name="see what follows").click()
    page.get_by_text("Tried out, not saved").wait_for()
    assert page.locator(".picture svg").count() == 1
    assert page.locator(f"#cases-{line.pk}").input_value() == "5"
    assert OrderLine.objects.get(pk=line.pk).cases == 3
    page.get_by_text("the same as figures").click()
    assert page.locator(".picture tbody tr").count() > 2
    assert width_of(page) <= PHONE
    page.get_by_role("button", name="save").click()
    page.get_by_text("we would order 3; you have 5").wait_for()
    stored = OrderLine.objects.get(pk=line.pk)
    assert (stored.cases, stored.touched_why) == (5, "street fair")


def test_with_the_keyboard_alone(browse: Browse, bram: User, order: PurchaseOrder) -> None:
    page = browse(bram, DESK, False)
    page.goto(f"/orders/{order.number}/")
    first = order.lines.order_by("item__name", "pk")[0]
    _tab_to(page, f"cases-{first.pk}")
    page.keyboard.type("6")  # a field reached by Tab is selected
    _tab_to(page, f"why-{first.pk}")
    page.keyboard.type("event")
    _tab_to(page, "approve")
    page.keyboard.press("Enter")
    page.get_by_text("Approved. It is on order").wait_for()
    assert OrderLine.objects.get(pk=first.pk).cases == 6
    _tab_to(page, "send by e-mail")
    page.keyboard.press("Enter")
    page.get_by_text("on its way by e-mail to").wait_for()


def test_a_button_stays_under_the_press(browse: Browse, bram: User, order: PurchaseOrder) -> None:
    """The word why is seen in the line in hand alone, and keeps its room in the others."""
    page = browse(bram, DESK, False)
    page.goto(f"/orders/{order.number}/")
    line = order.lines.order_by("item__name", "pk")[0]
    save = page.get_by_role("button", name="save")
    calm = save.bounding_box()
    page.locator(f"#cases-{line.pk}").fill("6")
    box = save.bounding_box()
    assert box is not None and box == calm
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 2)
    page.mouse.down()
    assert save.bounding_box() == box
    page.mouse.up()
    page.get_by_text("you have 6").wait_for()
    assert OrderLine.objects.get(pk=line.pk).cases == 6


def test_several_without_a_flag_are_approved_from_the_list(
    browse: Browse, bram: User, order: PurchaseOrder
) -> None:
    for _ in range(5):
        draft(1)
    late = draft(1, hours=-1)
    page = browse(bram, PHONE, False)
    page.goto("/orders/")
    page.get_by_role("button", name="approve the 6 that carry no flag").click()
    page.get_by_text("6 orders approved.").wait_for()
    assert now(late).status == "draft"
    assert PurchaseOrder.objects.filter(status="approved").count() == 6


def test_after_the_cutoff_the_page_says_what_can_be_done(browse: Browse, bram: User) -> None:
    late = draft(2, hours=-1, supplier=make.supplier(name="Marsh Growers", phone="555-1"))
    page = browse(bram, PHONE, False)
    page.goto(f"/orders/{late.number}/")
    told = page.locator(".late-now").inner_text()
    assert "Ring Marsh Growers (555-1)" in told
    assert "Their next delivery that can be ordered is" in told
    assert width_of(page) <= PHONE


def test_the_supplier_rings_no_cabbage(browse: Browse, bram: User, order: PurchaseOrder) -> None:
    at = timezone.now()
    PurchaseOrder.objects.filter(pk=order.pk).update(status="sent", sent_at=at, approved_at=at)
    page = browse(bram, PHONE, False)
    page.goto(f"/orders/{order.number}/")
    line = order.lines.order_by("item__name", "pk")[0]
    page.locator("summary", has_text="answer").first.click()
    page.locator(f"#says-{line.pk}").select_option("not_coming")
    page.get_by_role("button", name="note the answers chosen").click()
    page.get_by_text("What does not come, and what that means").wait_for()
    assert OrderLine.objects.get(pk=line.pk).confirmed_cases == 0
    page.get_by_role("button", name="all of it is confirmed").click()
    page.get_by_text("Every open line is confirmed").wait_for()


def _sign_in(page: Page, user: User) -> None:
    user.set_password("pestle and mortar")
    user.save()
    page.goto("/")
    page.locator("#username").fill(user.username)
    page.locator("#password").fill("pestle and mortar")
    page.get_by_role("button", name="sign in").click()


def _focused(page: Page) -> str:
    found = page.evaluate_handle("document.activeElement").as_element()
    assert found is not None
    return found.get_attribute("id") or found.inner_text()


def _tab_to(page: Page, what: str) -> None:
    for _ in range(80):
        page.keyboard.press("Tab")
        if _focused(page) == what:
            return
    raise AssertionError(f"Tab does not lead to {what}")
