"""The dock at a phone's and a desk's width, with and without script, by keyboard alone; touches are
counted."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from inventory.models import Lot, OnHand
from purchasing.models import PurchaseOrder, Receipt, ReceiptLine
from tests import factories as make
from tests.browser.conftest import PHONE
from tests.browser.dock_hand import (
    Hand,
    as_ordered,
    by_weight,
    fifteen_lines,
    line,
    press,
    sign_in_by_hand,
)
from tests.browser.parts import Browse
from tests.purchasing.services.dock_scenes import chilled, dry
from tests.purchasing.web.dock_rows import BEEF_GTIN, coming

pytestmark = pytest.mark.browser
LEAST_TARGET = 44


@pytest.fixture
def order(live_server: LiveServer) -> PurchaseOrder:
    return fifteen_lines()


@pytest.mark.parametrize("script", [True, False], ids=["script", "plain"])
def test_fifteen_lines_in_order_from_the_list_to_received(
    browse: Browse, wen: User, order: PurchaseOrder, width: int, script: bool
) -> None:
    page = browse(wen, width=width, script=script)
    hand = Hand(page)
    page.goto("/deliveries/")
    hand.touch(".coming .do a")
    hand.type("#g-chilled-temp", "38")
    as_ordered(hand, order)
    hand.touch("#accept")
    page.wait_for_url("**/receipts/*/")
    assert hand.touches <= 25
    assert Receipt.objects.count() == 1
    assert Lot.objects.count() == 15
    expect(page.get_by_role("link", name="print 15 labels")).to_be_visible()


def test_a_line_as_ordered_is_one_touch_and_a_rejected_line_four(
    browse: Browse, wen: User, order: PurchaseOrder, width: int
) -> None:
    page = browse(wen, width=width)
    page.goto(f"/deliveries/{order.number}/")
    hand, first = Hand(page), line(order)
    hand.touch(press(first, "ordered"))
    assert hand.touches == 1
    hand = Hand(page)
    hand.touch(press(first, "reject"))
    hand.touch(f"#line-{first.pk} label:has([value=crushed])")
    hand.type(f"#l{first.pk}-rejected", "2")
    hand.touch(f"#line-{first.pk} label:has([name$=-again])")
    assert hand.touches <= 4
    assert page.locator("#looked").inner_text() == "1 of 15 lines looked at"


def test_panels_show_only_what_is_asked(browse: Browse, wen: User, order: PurchaseOrder) -> None:
    page = browse(wen, width=PHONE, script=False)
    page.goto(f"/deliveries/{order.number}/")
    one = line(order)
    reasons, rest = f"#line-{one.pk} .when-reject", f"#line-{one.pk} .when-away"
    assert not page.locator(reasons).is_visible()
    page.locator(press(one, "reject")).click()
    assert page.locator(reasons).is_visible() and not page.locator(rest).is_visible()
    page.locator(press(one, "away")).click()
    assert page.locator(rest).is_visible() and not page.locator(reasons).is_visible()


def test_nothing_reaches_over_the_edge_and_targets_are_big(
    browse: Browse, wen: User, order: PurchaseOrder, width: int
) -> None:
    by_weight(order)
    page = browse(wen, width=width)
    for path in ("/deliveries/", f"/deliveries/{order.number}/", "/bought/"):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """least => [...document.querySelectorAll(
                 "main :is(button, a.act, a.second, select, input:not([type=hidden]), summary)")]
               .filter(one => one.offsetParent && !["radio", "checkbox"].includes(one.type))
               .filter(one => one.getBoundingClientRect().height < least)
               .map(one => one.outerHTML.slice(0, 80))""",
            LEAST_TARGET,
        )
        assert small == []
        presses = page.locator(".press:visible").all()
        assert all(
            (one.bounding_box() or {"height": 0})["height"] >= LEAST_TARGET for one in presses
        )


def test_by_keyboard_alone(browse: Browse, wen: User, live_server: LiveServer) -> None:
    order = coming(chilled(), dry())
    page = browse(wen)
    page.goto(f"/deliveries/{order.number}/")
    page.focus("#g-chilled-temp")
    page.keyboard.type("38")
    for one in order.lines.all():
        page.focus(f"#l{one.pk}-how")
        page.keyboard.press("Space")
    page.focus("#accept")
    page.keyboard.press("Enter")
    page.wait_for_url("**/receipts/*/")
    assert Lot.objects.count() == 2


def test_enter_in_a_field_takes_nothing_in(browse: Browse, wen: User, order: PurchaseOrder) -> None:
    """A scanner presses Enter behind every label."""
    page = browse(wen, script=False)
    page.goto(f"/deliveries/{order.number}/")
    page.fill("#g-chilled-temp", "38")
    page.keyboard.press("Enter")
    expect(page.locator(".problems")).to_contain_text("Scan a label")
    assert page.input_value("#g-chilled-temp") == "38"
    assert not Receipt.objects.exists()


def test_a_refusal_keeps_everything_and_says_why(
    browse: Browse, wen: User, order: PurchaseOrder
) -> None:
    page = browse(wen, width=PHONE)
    page.goto(f"/deliveries/{order.number}/")
    hand = Hand(page)
    hand.type("#g-chilled-temp", "45")
    expect(page.locator(".probe .warm")).to_be_visible()
    as_ordered(hand, order)
    hand.touch("#accept")
    expect(page.locator(".problems")).to_contain_text("A manager must sign in on this device")
    assert page.input_value("#g-chilled-temp") == "45"
    assert page.locator(".how :checked").count() == 15
    page.fill("#g-chilled-temp", "38")
    page.locator("#accept").click()
    page.wait_for_url("**/receipts/*/")


def test_a_manager_signs_in_on_the_same_device_and_finds_everything_typed(
    browse: Browse, wen: User, order: PurchaseOrder
) -> None:
    boss = make.manager()
    boss.set_password("barley")
    boss.save()
    page = browse(wen)
    page.goto(f"/deliveries/{order.number}/")
    hand = Hand(page)
    hand.type("#g-chilled-temp", "45")
    as_ordered(hand, order)
    hand.touch("#accept")
    expect(page.locator(".problems")).to_contain_text("A manager must sign in on this device")
    page.get_by_role("button", name="sign out").click()
    page.wait_for_url("**/sign-in/**")  # what the tablet keeps is cleared first
    sign_in_by_hand(page, boss.username, "barley")
    page.goto(f"/deliveries/{order.number}/")
    assert page.input_value("#g-chilled-temp") == "45"
    page.fill("#override", "iced at once")
    page.locator("#accept").click()
    page.wait_for_url("**/receipts/*/")
    assert Receipt.objects.get().by == boss
    assert ReceiptLine.objects.filter(override_by=boss).count() == 4


def test_from_signing_in_to_received(
    browse: Browse, wen: User, live_server: LiveServer, width: int
) -> None:
    wen.set_password("barley")
    wen.save()
    order = coming(chilled(), dry())
    page = browse(None, width=width)
    page.goto("/deliveries/")
    sign_in_by_hand(page, wen.username, "barley")
    page.wait_for_url("**/deliveries/")
    hand = Hand(page)
    hand.touch(".coming .do a")
    hand.type("#g-chilled-temp", "38")
    as_ordered(hand, order)
    hand.touch("#accept")
    page.wait_for_url("**/receipts/*/")
    hand.touch("main .act")
    page.wait_for_url("**/labels/**")
    assert page.locator(".tape").count() == 2


def test_weights_are_keyed_with_a_running_total_and_undone(
    browse: Browse, wen: User, live_server: LiveServer, width: int
) -> None:
    order = coming(chilled(name="Beef"))
    one = by_weight(order, cases=3)
    page = browse(wen, width=width)
    page.goto(f"/deliveries/{order.number}/")
    box = page.locator(f"#line-{one.pk} .weights")
    for weight in ("41.25", "38,5", "400"):
        box.locator("[data-scale]").fill(weight)
        page.keyboard.press("Enter")
    box.locator("[data-undo]").click()
    expect(box.locator(".running")).to_have_text("2 of 3 weighed, 79.75 lb, 1 to go")
    box.locator("[data-scale]").fill("40.25")
    box.locator("[data-add]").click()
    page.fill("#g-chilled-temp", "38")
    page.locator(press(one, "ordered")).click()
    page.locator("#accept").click()
    page.wait_for_url("**/receipts/*/")
    assert OnHand.objects.get().qty == Decimal("54431.0844")


def test_a_scanner_that_types_fills_the_line(
    browse: Browse, wen: User, live_server: LiveServer
) -> None:
    """GL-01, the separator typed as Ctrl+]."""
    order = coming(chilled(name="Beef"), dry())
    one = by_weight(order)
    page = browse(wen)
    page.goto(f"/deliveries/{order.number}/")
    page.focus("#scan")
    page.keyboard.type(f"01{BEEF_GTIN}320200412510L2606A")
    page.keyboard.press("Control+]")
    page.keyboard.type("21000457")
    page.keyboard.press("Enter")
    expect(page.locator("#read-says")).to_have_text("Beef: lot L2606A, 41.25 lb")
    assert page.input_value(f"#l{one.pk}-lot") == "L2606A"
    assert page.input_value(f"#l{one.pk}-weights").strip() == "41.25"
    assert page.input_value("#scan") == ""
