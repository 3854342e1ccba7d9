"""Taking out: what, how much, why."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from inventory.engine.take_outs import Why
from inventory.models import Hold, Item, ItemUnit, Location, Movement, OnHand
from tests import factories as make
from tests.purchasing.web.shelf import post, shelf_lot, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def leeks() -> Item:
    item = make.item(name="Leeks")
    ItemUnit.objects.create(item=item, word="pan", qty=3, of_unit="kg")
    return item


@pytest.fixture
def staff(place: Location) -> Client:
    return signed_in(make.member("staff", place, sees_cost=True))


def page(client: Client, query: str = "") -> str:
    response = client.get(f"/take-out/{query}")
    assert response.status_code == 200
    return " ".join(text_of(response).split())


def test_what_expires_first_stands_first(place: Location, staff: Client) -> None:
    later, past, undated = (
        shelf_lot(place, days=4),
        shelf_lot(place, days=-1),
        shelf_lot(place, use_by=None),
    )
    text = page(staff)
    assert text.index(past.strip) < text.index(later.strip) < text.index(undated.strip)
    assert "past its use-by" in text
    assert '<span class="figure">20.00</span>' in text


def test_nothing_there_is_said_so(staff: Client) -> None:
    assert "Nothing is on hand." in page(staff)
    assert "is called 'leek'." in page(staff, "?find=leek")


def test_found_by_strip_or_name(place: Location, leeks: Item, staff: Client) -> None:
    lot, other = shelf_lot(place, of=leeks), shelf_lot(place)
    for asked in ("leek", lot.strip[:3].lower()):
        text = page(staff, f"?find={asked}")
        assert lot.strip in text and other.strip not in text


def test_waste_in_three_touches(place: Location, leeks: Item, staff: Client) -> None:
    """What: a strip; how much: the figure; why: the button that sends it."""
    lot = shelf_lot(place, of=leeks)
    (what,) = re.findall(r'href="(\?lot=[^"]*)"', page(staff))
    text = page(staff, what.replace("&amp;", "&"))
    assert re.search(r'name="qty"[^>]*value="5"', text)
    assert re.findall(r'name="why" value="([^"]*)"', text) == list(Why)
    typed = {"lot": lot.strip, "at": "COM", "qty": "1,5", "unit": "kg", "why": "spoiled"}
    said = staff.post("/take-out/", {"key": "k", **typed}, follow=True)
    assert f"1.5 kg of {lot.strip} is taken out: spoiled." in text_of(said)
    movement = Movement.objects.get(kind="take_out")
    assert (int(movement.qty), movement.reason) == (-1500, "spoiled")


def test_in_a_unit_of_the_house(place: Location, leeks: Item, staff: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    text = page(staff, f"?lot={lot.strip}&at=COM")
    assert "<option>kg</option><option>pan</option><option>g</option>" in text
    typed = {"lot": lot.strip, "at": "COM", "qty": "1", "unit": "pan", "why": "spoiled"}
    post(staff, "/take-out/", **typed)
    assert int(OnHand.objects.get(lot=lot).qty) == 2000


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"qty": "lots"}, "is not a figure"),
        ({"qty": "9"}, "5000 g are there, not 9000 g"),
        ({"why": ""}, "Choose why it is taken out"),
        ({"unit": "box"}, "box"),
    ],
)
def test_what_is_refused_keeps_what_was_typed(
    typed: dict[str, str], said: str, place: Location, leeks: Item, staff: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    whole = {"lot": lot.strip, "at": "COM", "qty": "2", "unit": "kg", "why": "spoiled", **typed}
    response = post(staff, "/take-out/", **whole)
    assert response.status_code == 422
    assert said in text_of(response)
    assert f'value="{whole["qty"]}"' in text_of(response)
    assert int(OnHand.objects.get(lot=lot).qty) == 5000


def test_what_is_on_hold_is_not_eaten(place: Location, leeks: Item, staff: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    Hold.objects.create(lot=lot, reason="recall")
    typed = {"lot": lot.strip, "at": "COM", "qty": "2", "unit": "kg"}
    assert "is on hold" in text_of(post(staff, "/take-out/", **typed, why="staff meal"))
    assert post(staff, "/take-out/", **typed, why="recalled or held").status_code == 302


def test_a_lot_that_is_gone_meanwhile_shows_the_shelf_again(
    place: Location, leeks: Item, staff: Client
) -> None:
    lot, other = shelf_lot(place, of=leeks), shelf_lot(place)
    OnHand.objects.filter(lot=lot).update(qty=0)
    typed = {"lot": lot.strip, "at": "COM", "qty": "2", "unit": "kg", "why": "spoiled"}
    response = post(staff, "/take-out/", **typed)
    assert response.status_code == 409
    assert "somebody was quicker" in text_of(response)
    assert other.strip in text_of(response)


def test_only_ones_own_places(place: Location, leeks: Item) -> None:
    lot = shelf_lot(place, of=leeks)
    elsewhere = signed_in(make.member("staff", make.location()))
    assert lot.strip not in page(elsewhere)
    assert elsewhere.get(f"/take-out/?lot={lot.strip}&at=COM").status_code == 404
    typed = {"lot": lot.strip, "at": "COM", "qty": "2", "unit": "kg", "why": "spoiled"}
    assert post(elsewhere, "/take-out/", **typed).status_code == 404
    assert signed_in(make.member("buyer")).get("/take-out/").status_code == 404


def test_money_is_for_who_sees_cost(place: Location) -> None:
    shelf_lot(place)
    text = page(signed_in(make.member("staff", place)))
    assert "20.00" not in text and "USD" not in text


def test_queries_do_not_grow_with_lots(
    place: Location, staff: Client, count_queries: Callable[..., int]
) -> None:
    for _ in range(3):
        shelf_lot(place)
    few = count_queries(page, staff)
    for _ in range(57):
        shelf_lot(place)
    assert count_queries(page, staff) == few
