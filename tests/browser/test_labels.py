"""Labels on tape of each size: nothing that matters is cut off, one label a piece."""

from __future__ import annotations

from datetime import date

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from inventory.models import AllergenWord
from tests import factories as make
from tests.browser.parts import Browse
from tests.purchasing.services.dock_scenes import chilled, dry

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", ["62x29", "50x30", "100x50"])
def test_allergens_and_use_by_are_never_cut_off(
    browse: Browse, wen: User, live_server: LiveServer, size: str
) -> None:
    item = chilled(name="Filled flatbread with everything, family size", shelf_life_days=400)
    for name in ("milk", "eggs", "wheat", "soybeans", "sesame"):
        AllergenWord.objects.create(item=item, allergen=name, says="contains")
    for name in ("peanuts", "tree nuts"):
        AllergenWord.objects.create(item=item, allergen=name, says="may")
    use_by = date(2027, 12, 28)
    strip = make.lot(5, at=make.location(), of=item, use_by=use_by).strip
    page = browse(wen)
    page.goto(f"/labels/?lots={strip}&size={size}")
    expect(page.locator(".allergens")).to_contain_text("not stated: fish, crustacean shellfish")
    cut = page.evaluate(
        """() => [...document.querySelectorAll(".tape :is(.until, .allergens, .number-plate)")]
           .filter(one => one.scrollWidth > one.clientWidth + 1 ||
                   one.getBoundingClientRect().bottom >
                   one.closest(".tape").getBoundingClientRect().bottom)
           .map(one => one.className)"""
    )
    assert cut == []


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
