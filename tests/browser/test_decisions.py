"""The buyer reads why a draft is as it is where there was a choice: a minimum reached, waited
for, paid for or refused, a bridge, a lower price; on the pass, in the list and on the order."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.models import Location
from purchasing.models import OrderLine, PurchaseOrder
from tests import factories as make
from tests.browser.parts import WIDTHS, Browse, is_sound, nothing_is_cut
from tests.purchasing.web.test_orders import draft

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PICTURES = os.environ.get("PICTURES", "")
WAYS = {
    "topped_up": (("1.20", "wait", "14.00"), "Topped up to the minimum of 150.00: 1.20 for what"),
    "wait": (("0.40", "topped_up", "6.10"), "waiting costs 0.40 of margin missed, on average"),
    "fee_paid": (("15.00", "topped_up", "21.30"), "the fee costs least. Next best: top up"),
    "cannot_meet_minimum": (None, "They refuse less than the minimum: ring them."),
}


@pytest.fixture
def bram(transactional_db: None) -> User:
    return make.member("buyer", sees_cost=True)


def short(decision: str) -> PurchaseOrder:
    supplier = make.supplier(
        name="Marsh Growers", minimum_order=150, below_minimum="fee", delivery_fee=15
    )
    order = draft(2, supplier=supplier, decision=decision)
    weighed, _words = WAYS[decision]
    if weighed:
        cost, instead, instead_cost = weighed
        order.weighed = {
            "taken": decision,
            "cost": cost,
            "instead": instead,
            "instead_cost": instead_cost,
        }
        order.save()
    return order


def seen(page: Page, name: str, width: int) -> None:
    nothing_is_cut(page)
    if PICTURES:
        page.screenshot(path=Path(PICTURES) / f"{name}-{width}.png", full_page=True)


@WIDTHS
@pytest.mark.parametrize("decision", WAYS)
def test_what_was_decided_of_a_minimum_is_read_wherever_it_is_approved(
    bram: User, browse: Browse, width: int, decision: str
) -> None:
    order = short(decision)
    page = browse(bram, width, False)
    for name, address in (
        ("pass", "/"),
        ("due", "/orders/"),
        ("order", f"/orders/{order.number}/"),
    ):
        page.goto(address)
        expect(page.locator("main").get_by_text(WAYS[decision][1])).to_be_visible()
        seen(page, f"{decision}-{name}", width)


@WIDTHS
def test_a_draft_that_a_person_changed_is_judged_as_it_is_now(
    bram: User, browse: Browse, width: int
) -> None:
    order = short("topped_up")
    page = browse(bram, width, False)
    page.goto(f"/orders/{order.number}/")
    page.locator("input.count").first.fill("1")
    page.get_by_role("button", name="save").click()
    expect(page.get_by_text("Topped up to the minimum")).to_have_count(0)
    expect(page.get_by_text("short of the minimum of 150.00").first).to_be_visible()


@WIDTHS
def test_a_bridge_and_a_lower_price_are_read_in_the_margin(
    bram: User, browse: Browse, width: int
) -> None:
    place: Location = make.location(name="Yard kitchen")
    late = draft(3, supplier=make.supplier(name="Marsh Growers"), location=place)
    today = timezone.now().date() + timedelta(days=1)
    early = draft(1, 4, supplier=make.supplier(name="Fast Veg"), location=place, delivery=today)
    bridge, cheaper = early.lines.order_by("pk")
    first = late.lines.get()
    bridge.item = first.item
    for line in (bridge, first):
        weigh(line, "bridge", "20.08", "run_short", "149.11")
    weigh(cheaper, "price_break", "-3.53", "as_needed", "0.00")
    page = browse(bram, width)
    for address in ("/", "/orders/"):
        page.goto(address)
        for words in ("One line is a bridge until the first choice", "which saves 3.53."):
            expect(page.locator("main").get_by_text(words)).to_have_count(1)
        nothing_is_cut(page)
    page.goto(f"/orders/{early.number}/")
    margin = page.locator("td.pencil")
    expect(margin.nth(0)).to_contain_text("a bridge until Marsh Growers can come on")
    expect(margin.nth(0)).to_contain_text("would miss 149.11 of margin")
    expect(margin.nth(1)).to_contain_text("saves 3.53, after what may be thrown away")
    seen(page, "bridge", width)
    is_sound(page)
    page.goto(f"/orders/{late.number}/")
    expect(page.locator("td.pencil").first).to_contain_text("Fast Veg brings some on")
    seen(page, "bridged", width)


def weigh(line: OrderLine, taken: str, cost: str, instead: str, instead_cost: str) -> None:
    line.reasons = {
        "basis_used": "forecast",
        "unit": "kg",
        "target": "30",
        "raw_need": "20",
        "use_in_window": "22",
        "use_in_window_p90": "30",
        "rule": "R13",
        "weighed": [
            {"taken": taken, "cost": cost, "instead": instead, "instead_cost": instead_cost}
        ],
    }
    line.save()
