"""Every page with the demo's kitchen on it: small, from the house, nothing over the edge, and
without a fault that axe-core knows (WCAG 2.2 rules of Deque's axe-core)."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.auth.models import User
from django.core.management import call_command
from django.test import override_settings
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from playwright.sync_api import Page, Response

from inventory.models import OnHand
from purchasing.models import PurchaseOrder, ReorderRun
from tests.browser.conftest import DESK, PHONE

pytestmark = pytest.mark.browser

MOST_BYTES = 60_000
# What the dock's page fetches on its own afterwards, one delivery each, to work without signal.
MOST_PACKED = 300_000
# Where wet hands press: targets of at least 44 px (WCAG 2.5.5, enhanced).
DOCK = ("deliveries", "delivery", "bought", "use_by", "take_out")
SMALLEST = 44
# Where pictures of all pages go, for whoever looks at them.
PICTURES = os.environ.get("PICTURES", "")


@pytest.fixture
def demo(transactional_db: None) -> Iterator[None]:
    """The invented kitchen, with drafts from a quick run."""
    with override_settings(REORDER_PATHS=50, DEBUG=True):
        call_command("demo", "--no-serve", "--json", stdout=StringIO())
        yield


def addresses() -> dict[str, str]:
    """Every page by name, of the fullest example there is."""
    drafts = PurchaseOrder.objects.drafts().filter(location__code="MILL")
    coming = PurchaseOrder.objects.on_order().filter(location__code="MILL", status="sent")
    tomorrow = timezone.now().date() + timedelta(days=1)
    lot = OnHand.objects.filter(qty__gt=0, lot__use_by__gte=tomorrow).select_related("lot")[0].lot
    of: dict[str, list[object]] = {
        "the_pass": [],
        "all_pages": [],
        "look": [],
        "orders": [],
        "order": [max(drafts, key=lambda draft: draft.lines.count()).number],
        "run": [ReorderRun.objects.latest("as_of").pk],
        "suppliers": [],
        "supplier": [drafts[0].supplier.code],
        "deliveries": [],
        "delivery": [max(coming, key=lambda order: order.lines.count()).number],
        "bought": [],
        "use_by": [],
        "lot": [lot.strip],
        "trace": [lot.strip],
        "holds": [],
        "take_out": [],
        "items": [],
        "item": [lot.item.code],
        "item_change": [lot.item.code],
        "pars_list": [],
        "pars": ["MILL"],
        "par_tips": ["MILL"],
        "not_ready": [],
        "people": [],
        "person": ["bram"],
        "invite": [],
        "log": [],
        "workbook": [],
        "forecasts": [],
        "replay": [],
    }
    found = {name: _address(name, *arguments) for name, arguments in of.items()}
    if labels := found.setdefault("labels", _address("labels")):
        found["labels"] = f"{labels}?lots={lot.strip}"
    return found


def _address(name: str, *arguments: object) -> str:
    """Empty: there is no such address yet."""
    try:
        return reverse(name, args=arguments)
    except NoReverseMatch:
        return ""


def faults(page: Page, name: str, width: int) -> Iterator[str]:
    """What is wrong with the page that is shown, in words."""
    taken = page.evaluate("document.documentElement.scrollWidth")
    if taken > width:
        yield f"{name} at {width}: reaches to {taken} px"
    found = Axe().run(page)
    for violation in found.response["violations"]:
        where = "; ".join(str(node["target"]) for node in violation["nodes"][:3])
        yield f"{name} at {width}: {violation['id']}: {violation['help']} at {where}"
    if name in DOCK:
        yield from _small_targets(page, name, width)


def _small_targets(page: Page, name: str, width: int) -> Iterator[str]:
    for one in page.locator("main button:visible, main a.act:visible, main a.second:visible").all():
        box = one.bounding_box()
        if box and min(box["height"], box["width"]) < SMALLEST - 0.5:
            size = f"{box['width']:.0f} x {box['height']:.0f}"
            yield f"{name} at {width}: '{one.inner_text()}' is {size}"


def test_every_page_is_whole(demo: None, browse: Callable[..., Page]) -> None:
    owner = User.objects.get(username="ottilie")
    wrong: list[str] = []
    for name, address in addresses().items():
        for width in (PHONE, DESK):
            page = browse(owner, width)
            wrong += _opened(page, name, address, width)
            if PICTURES:
                _picture(page, name, width)
            page.context.close()
    assert not wrong, "\n".join(wrong)


def _opened(page: Page, name: str, address: str, width: int) -> list[str]:
    answers: list[Response] = []
    said: list[str] = []
    page.on("response", lambda answer: answers.append(answer))
    page.on("console", lambda line: said.append(f"{name}: console: {line.text}"))
    if not address:
        return [f"{name} has no address"]
    first = page.goto(address, wait_until="networkidle")
    if first is None or first.status != 200:
        return [f"{name}: status {first and first.status}"]
    fetched = [answer for answer in answers if not answer.url.startswith(("data:", "blob:"))]
    hosts = {urlsplit(answer.url).netloc for answer in fetched} - {urlsplit(first.url).netloc}
    wrong = [f"{name}: asks {host}" for host in hosts]
    packed = [answer for answer in fetched if answer.request.resource_type == "fetch"]
    shown = [answer for answer in fetched if answer not in packed]
    for answers, most, what in (
        (shown, MOST_BYTES, "on a first visit"),
        (packed, MOST_PACKED, "kept"),
    ):
        if (weight := sum(_over_the_wire(answer) for answer in answers)) >= most:
            wrong.append(f"{name}: {weight} bytes {what}")
    return [*wrong, *said, *faults(page, name, width)]


def _picture(page: Page, name: str, width: int) -> None:
    page.screenshot(path=Path(PICTURES) / f"{name}-{width}.png", full_page=True)
    if width == DESK:
        page.pdf(path=Path(PICTURES) / f"{name}.pdf")


def _over_the_wire(answer: Response) -> int:
    sizes = answer.request.sizes()
    return int(sizes["responseBodySize"] + sizes["responseHeadersSize"])
