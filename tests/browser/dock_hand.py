"""A thumb at the dock, and what it touches."""

from __future__ import annotations

from decimal import Decimal

from playwright.sync_api import Page

from inventory.models import Item
from purchasing.models import Offer, OrderLine, PurchaseOrder
from tests.purchasing.services.dock_scenes import chilled, dry
from tests.purchasing.web.dock_rows import BEEF_GTIN, coming


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


def sign_in_by_hand(page: Page, username: str, password: str) -> None:
    if "/sign-in/" not in page.url:
        page.goto("/sign-in/")
    page.fill("[name=username]", username)
    page.fill("[name=password]", password)
    page.locator("main form:has([name=password]) button").click()
    page.wait_for_load_state()


def fifteen_lines() -> PurchaseOrder:
    """15 lines, 4 of them cold."""
    items = [chilled(name=f"Cold {at}") for at in range(4)]
    return coming(*items, *[dry(name=f"Dry {at}") for at in range(11)])
