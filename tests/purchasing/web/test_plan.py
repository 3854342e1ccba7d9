from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import Location
from tests import factories as make
from tests.purchasing.web.plan_rows import draft, shelf_lot


@pytest.fixture
def place(db: None) -> Location:
    return make.location(name="Mill Lane commissary")


@pytest.fixture
def page(client: Client) -> Callable[[], str]:
    def read() -> str:
        response = client.get(reverse("plan"))
        assert response.status_code == 200
        return response.content.decode()

    return read


def test_an_empty_kitchen_says_what_would_stand_there(db: None, page: Callable[[], str]) -> None:
    text = page()
    assert "Nothing needs to be ordered. Drafts are drawn up before each supplier" in text
    assert "No lot with a use-by is on hand." in text
    assert "Local code and the licensed person in charge decide" in text


def test_a_draft_is_a_sheet_with_lines_total_and_reasons(
    place: Location, page: Callable[[], str]
) -> None:
    order = draft(place)
    text = page()
    assert f"<h2>{order.supplier.name}, " in text
    assert order.number in text
    for line in order.lines.all():
        assert f'<th scope="row">{line.item.name}</th>' in text
    assert text.count("12.00/case") == 2
    assert '<td class="figure">48.00</td>' in text  # 2 lines of 2 cases at 12.00
    assert text.count("have 12 kg; at most 52 on nine days of ten") == 2
    assert "there is no minimum" in text


@pytest.mark.parametrize("status", ["approved", "sent", "cancelled"])
def test_only_drafts_are_due(status: str, place: Location, page: Callable[[], str]) -> None:
    order = draft(place)
    order.status = status
    order.save()
    assert order.number not in page()


def test_a_lot_is_a_strip_with_days_left_and_worth(
    place: Location, page: Callable[[], str]
) -> None:
    lot = shelf_lot(place)
    text = page()
    assert f'<b class="code">{lot.strip}</b>' in text
    assert "5 kg, Mill Lane commissary" in text
    assert "until tomorrow" in text
    assert '<span class="figure">20.00</span>' in text
    assert "take it out" not in text


def test_a_lot_past_its_use_by_says_what_to_do(place: Location, page: Callable[[], str]) -> None:
    shelf_lot(place, days_left=-2)
    text = page()
    assert "ended 2 days ago" in text
    assert "take it out, unless a manager says why not" in text


def test_names_are_text_not_markup(place: Location, page: Callable[[], str]) -> None:
    make.lot(1, at=place, of=make.item(name="<b>Leeks</b>"), use_by=shelf_lot(place).use_by)
    assert "&lt;b&gt;Leeks&lt;/b&gt;" in page()


def test_queries_do_not_grow_with_drafts_and_lots(
    place: Location, page: Callable[[], str], count_queries: Callable[..., int]
) -> None:
    draft(place, lines=1)
    shelf_lot(place)
    few = count_queries(page)
    for _ in range(6):
        draft(place, lines=5)
        shelf_lot(place)
    assert count_queries(page) == few


def test_the_page_only_reads(db: None, client: Client) -> None:
    assert client.post(reverse("plan")).status_code == 405
