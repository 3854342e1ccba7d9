"""The plain page as Chromium shows it, at a phone's width and at a desk's."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, Response
from pytest_django.live_server_helper import LiveServer

from tests import factories as make
from tests.purchasing.web.plan_rows import draft, shelf_lot

pytestmark = pytest.mark.browser

PHONE, DESK = 390, 1280
MOST_BYTES = 60_000


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def shown(
    request: pytest.FixtureRequest, browser: Browser, live_server: LiveServer
) -> Iterator[Page]:
    """The page with three drafts and two lots, without JavaScript."""
    place = make.location(name="Mill Lane commissary")
    for _ in range(3):
        draft(place, lines=5)
    shelf_lot(place)
    shelf_lot(place, days_left=-1)
    context = browser.new_context(
        viewport={"width": request.param, "height": 900}, java_script_enabled=False
    )
    page = context.new_page()
    yield page
    context.close()


def _width(page: Page) -> float:
    """What the page takes, which scrolls sideways where it is more than there is."""
    boxes = [place.bounding_box() for place in page.locator("body, .sheet, table, .strip").all()]
    return max(box["x"] + box["width"] for box in boxes if box)


def test_drafts_and_strips_are_shown(shown: Page, live_server: LiveServer) -> None:
    shown.goto(live_server.url)
    assert shown.locator(".sheet:visible").count() == 3
    assert shown.locator(".sheet tbody tr:visible").count() == 15
    assert shown.locator(".sheet tbody .pencil:visible").count() == 15
    assert shown.locator(".strip:visible").count() == 2
    assert shown.get_by_text("take it out, unless a manager says why not").is_visible()


def test_nothing_reaches_over_the_edge(shown: Page, live_server: LiveServer) -> None:
    shown.goto(live_server.url)
    size = shown.viewport_size
    assert size is not None
    assert _width(shown) <= size["width"]


def test_all_comes_from_the_house_and_is_small(shown: Page, live_server: LiveServer) -> None:
    answers: list[Response] = []
    shown.on("response", lambda answer: answers.append(answer))
    shown.goto(live_server.url, wait_until="networkidle")
    fetched = [answer for answer in answers if not answer.url.startswith("data:")]
    assert {urlsplit(answer.url).netloc for answer in fetched} == {urlsplit(live_server.url).netloc}
    assert {answer.status for answer in fetched} == {200}
    assert sum(len(answer.body()) for answer in fetched) < MOST_BYTES


def test_the_currency_stands_once_with_each_column(shown: Page, live_server: LiveServer) -> None:
    shown.goto(live_server.url)
    for sheet in shown.locator(".sheet").all():
        assert sheet.inner_text().count("USD") == 1
