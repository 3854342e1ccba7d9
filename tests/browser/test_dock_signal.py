"""The dock with the signal cut in the middle, pressed twice, closed and opened again."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Error, FilePayload, expect
from pytest_django.live_server_helper import LiveServer

from inventory.models import OnHand
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
from tests.purchasing.services.dock_scenes import chilled, dry, frozen
from tests.purchasing.web.dock_rows import BEEF_GTIN, coming

pytestmark = pytest.mark.browser


@pytest.fixture
def order(live_server: LiveServer) -> PurchaseOrder:
    return fifteen_lines()


def test_without_signal_it_waits_and_is_sent_once(
    browse: Browse, wen: User, live_server: LiveServer, width: int
) -> None:
    order = coming(chilled(), dry())
    page = browse(wen, width=width)
    page.goto(f"/deliveries/{order.number}/")
    hand = Hand(page)
    hand.touch(press(line(order), "ordered"))
    page.context.set_offline(True)
    hand.type("#g-chilled-temp", "38")
    as_ordered(hand, order)
    hand.touch("#accept")
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    expect(page.locator("#outbox")).to_contain_text("No signal")
    assert not Receipt.objects.exists()
    page.context.set_offline(False)
    page.wait_for_url("**/receipts/*/")
    page.goto("/deliveries/")
    expect(page.locator("#outbox")).to_contain_text("Nothing waits to be sent, last sent ")
    assert Receipt.objects.count() == 1


def test_a_closed_tab_keeps_the_figures(browse: Browse, wen: User, order: PurchaseOrder) -> None:
    one = by_weight(order)
    page = browse(wen, width=PHONE)
    page.goto(f"/deliveries/{order.number}/")
    page.fill("#g-chilled-temp", "37.5")
    page.locator(press(one, "ordered")).click()
    page.fill(f"#l{one.pk}-weights", "41.25 38.5")
    context = page.context
    page.close()
    again = context.new_page()
    again.goto(f"/deliveries/{order.number}/")
    assert again.input_value("#g-chilled-temp") == "37.5"
    assert again.locator(f"#line-{one.pk} [value=ordered]").is_checked()
    assert again.input_value(f"#l{one.pk}-weights") == "41.25 38.5"
    expect(again.locator(f"#line-{one.pk} .running")).to_have_text(
        "2 of 2 weighed, 79.75 lb, 0 to go"
    )


def test_what_waits_is_sent_by_a_tab_that_is_opened_later(
    browse: Browse, wen: User, live_server: LiveServer
) -> None:
    order = coming(dry())
    page = browse(wen, width=PHONE)
    page.goto(f"/deliveries/{order.number}/")
    page.context.set_offline(True)
    hand = Hand(page)
    as_ordered(hand, order)
    hand.touch("#accept")
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    context = page.context
    page.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto("/deliveries/")
    expect(again.locator("#outbox")).to_contain_text("last sent")
    assert Receipt.objects.count() == 1


def test_the_pages_open_without_signal(browse: Browse, wen: User, live_server: LiveServer) -> None:
    order = coming(dry(name="Oats"))
    page = browse(wen, width=PHONE)
    page.goto("/deliveries/")
    page.evaluate("navigator.serviceWorker.ready.then(() => 0)")
    page.reload()
    page.wait_for_load_state("networkidle")
    page.context.set_offline(True)
    page.goto(f"/deliveries/{order.number}/")
    expect(page.get_by_role("heading", name="Oats")).to_be_visible()
    page.locator(press(line(order), "ordered")).click()
    page.locator("#accept").click()
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    page.context.set_offline(False)
    page.wait_for_url("**/receipts/*/")
    assert Receipt.objects.count() == 1


@pytest.mark.parametrize("script", [True, False], ids=["script", "plain"])
def test_a_double_press_makes_one_receipt(
    browse: Browse, wen: User, live_server: LiveServer, script: bool
) -> None:
    order = coming(dry())
    page = browse(wen, script=script)
    page.goto(f"/deliveries/{order.number}/")
    page.locator(press(line(order), "ordered")).click()
    page.locator("#accept").dblclick(no_wait_after=True)
    page.wait_for_url("**/receipts/*/")
    assert Receipt.objects.count() == 1


def test_what_one_person_entered_is_not_sent_by_another(
    browse: Browse, wen: User, live_server: LiveServer
) -> None:
    boss = make.manager()
    boss.set_password("barley")
    boss.save()
    order = coming(dry())
    page = browse(wen)
    page.goto(f"/deliveries/{order.number}/")
    page.context.set_offline(True)
    as_ordered(Hand(page), order)
    page.locator("#accept").click()
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    page.context.clear_cookies()
    page.context.set_offline(False)
    sign_in_by_hand(page, boss.username, "barley")
    page.goto("/deliveries/")
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    assert not Receipt.objects.exists()


def test_a_label_scanned_without_signal_is_kept_with_its_line(
    browse: Browse, wen: User, live_server: LiveServer
) -> None:
    order = coming(chilled(name="Beef"), dry())
    one = by_weight(order)
    page = browse(wen)
    page.goto(f"/deliveries/{order.number}/")
    page.context.set_offline(True)
    for weight in ("004125", "003850"):
        page.fill("#scan", f"01{BEEF_GTIN}3202{weight}10L2606A")
        page.keyboard.press("Enter")
        expect(page.locator("#read-says")).to_contain_text("the label is kept")
    page.fill("#g-chilled-temp", "38")
    as_ordered(Hand(page), order)
    page.locator("#accept").click()
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    page.context.set_offline(False)
    page.wait_for_url("**/receipts/*/")
    row = ReceiptLine.objects.get(order_line=one)
    assert row.lot and row.lot.supplier_lot == "L2606A"
    assert row.weight == Decimal("36173.9915075")


def test_a_photograph_survives_a_closed_tab(
    browse: Browse, wen: User, live_server: LiveServer
) -> None:
    from tests.inventory.engine.test_pictures import photo

    order = coming(frozen())
    page = browse(wen, width=PHONE)
    page.goto(f"/deliveries/{order.number}/")
    crushed: FilePayload = {"name": "crushed.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    page.set_input_files("#photo", files=[crushed])
    page.wait_for_timeout(200)
    context = page.context
    page.close()
    again = context.new_page()
    again.goto(f"/deliveries/{order.number}/")
    again.wait_for_function("document.getElementById('photo').files.length === 1")


def test_the_counter_waits_without_signal_too(
    browse: Browse, wen: User, live_server: LiveServer
) -> None:
    dry(code="OATS", name="Oats")
    make.location(name="Mill Lane")
    page = browse(wen, width=PHONE)
    page.goto("/bought/")
    page.fill("#shop", "Corner shop")
    page.fill("#b1-item", "OATS")
    page.fill("#b1-qty", "2.5")
    page.context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#outbox")).to_contain_text("1 entry waiting")
    page.context.set_offline(False)
    page.wait_for_url("**/receipts/*/")
    assert OnHand.objects.get().qty == 2500


def test_signing_out_forgets_the_pages(browse: Browse, wen: User, live_server: LiveServer) -> None:
    coming(dry(name="Oats"))
    page = browse(wen, width=PHONE)
    page.goto("/deliveries/")
    page.evaluate("navigator.serviceWorker.ready.then(() => 0)")
    page.reload()
    page.wait_for_load_state("networkidle")
    page.get_by_role("button", name="sign out").click()
    page.wait_for_url("**/sign-in/**")
    page.wait_for_timeout(300)
    page.context.set_offline(True)
    with pytest.raises(Error):
        page.goto("/deliveries/")
