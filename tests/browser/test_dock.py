"""The dock at a phone's and a desk's width: with and without script, by keyboard alone, with the
signal cut in the middle, pressed twice, closed and opened again. Touches are counted."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from inventory.models import Item, Lot, Membership, OnHand
from purchasing.models import Offer, OrderLine, PurchaseOrder, Receipt, ReceiptLine
from tests import factories as make
from tests.purchasing.services.dock_scenes import chilled, dry, frozen
from tests.purchasing.web.dock_rows import BEEF_GTIN, coming

pytestmark = pytest.mark.browser
Browse = Callable[..., Page]
PHONE, DESK = 390, 1280
LEAST_TARGET = 44


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def width(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture
def wen(live_server: LiveServer) -> User:
    return make.member(Membership.Role.STAFF)


@pytest.fixture
def order(live_server: LiveServer) -> PurchaseOrder:
    """15 lines, 4 of them cold."""
    items = [chilled(name=f"Cold {at}") for at in range(4)]
    return coming(*items, *[dry(name=f"Dry {at}") for at in range(11)])


class Hand:
    """A thumb that counts its touches; typing into a touched field is part of the touch."""

    def __init__(self, page: Page) -> None:
        self.page, self.touches = page, 0

    def touch(self, selector: str) -> None:
        self.page.locator(selector).first.click()
        self.touches += 1

    def type(self, selector: str, text: str) -> None:
        self.touch(selector)
        self.page.keyboard.type(text)


def line(order: PurchaseOrder, item: Item | None = None) -> OrderLine:
    lines = order.lines.filter(item=item) if item else order.lines.all()
    return lines.order_by("pk")[0]


def press(line: OrderLine, how: str) -> str:
    return f"#line-{line.pk} .how label:has([value={how}])"


def as_ordered(hand: Hand, order: PurchaseOrder) -> None:
    for one in order.lines.all():
        hand.touch(press(one, "ordered"))


def by_weight(order: PurchaseOrder, cases: int = 2) -> OrderLine:
    one = line(order)
    Offer.objects.filter(pk=one.offer_id).update(
        gtin=BEEF_GTIN, catch_weight=True, nominal_qty=Decimal(40), pack_unit="lb"
    )
    base = Decimal("18143.6948")
    order.lines.filter(pk=one.pk).update(cases=cases, pack_unit="lb", pack_base=base)
    return one


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
    file = {"name": "crushed.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    page.set_input_files("#photo", files=[file])  # type: ignore[list-item]
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


@pytest.mark.parametrize("size", ["62x29", "50x30", "100x50"])
def test_a_label_prints_on_one_piece_of_tape(
    browse: Browse, wen: User, live_server: LiveServer, size: str
) -> None:
    from io import BytesIO

    from pypdf import PdfReader

    place = make.location()
    strips = [make.lot(5, at=place, of=dry(name="Smoked paprika, sweet")).strip for _ in range(2)]
    page = browse(wen)
    page.goto(f"/labels/?lots={','.join(strips)}&size={size}")
    pages = PdfReader(BytesIO(page.pdf(prefer_css_page_size=True))).pages
    wide, high = (int(side) for side in size.split("x"))
    assert len(pages) == 2
    box = pages[0].mediabox
    assert (round(float(box.width) * 25.4 / 72), round(float(box.height) * 25.4 / 72)) == (
        wide,
        high,
    )
    assert strips[0] in pages[0].extract_text().replace(" ", "")
