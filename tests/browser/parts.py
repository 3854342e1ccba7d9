"""What the days in a browser share: widths, with and without script, and a page's fit."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.conftest import DESK, PHONE

Browse = Callable[..., Page]
PASSWORD = "beet and barley"
WIDTHS = pytest.mark.parametrize("width", [PHONE, DESK])
SMALLEST = 44  # px of what fingers press (WCAG 2.5.5, enhanced)
SCRIPT = pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])


def fits(page: Page) -> None:
    """Nothing sticks out sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0, f"{page.url} is {wide} px too wide"


def nothing_is_cut(page: Page) -> None:
    """Not the page, and no table or picture inside it, reaches over its edge."""
    fits(page)
    cut = page.evaluate(
        "[...document.querySelectorAll('main .wide, main .graph, main .bars, main ul')]"
        ".filter(one => one.scrollWidth > one.clientWidth + 1)"
        ".map(one => `${one.className}: ${one.innerText.slice(0, 60)}`)"
    )
    assert cut == [], page.url


def is_sound(page: Page) -> None:
    """No fault that axe-core knows, and what is pressed is large enough for a finger."""
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}\n{found.generate_report()}"
    pressed = page.locator("main button:visible, main summary:visible, main a.act:visible")
    small = [
        one.inner_text()
        for one in pressed.all()
        if (box := one.bounding_box()) and box["height"] < SMALLEST - 0.5
    ]
    assert small == [], page.url
