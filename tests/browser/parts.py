"""What the days in a browser share: widths, with and without script, and a page's fit."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import DESK, PHONE

Browse = Callable[..., Page]
PASSWORD = "beet and barley"
WIDTHS = pytest.mark.parametrize("width", [PHONE, DESK])
SCRIPT = pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])


def fits(page: Page) -> None:
    """Nothing sticks out sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0, f"{page.url} is {wide} px too wide"
