"""The use-by board pressed from a page that is no longer so, and a hold with its reason."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Hold, Item, Location, Lot, Movement
from purchasing.models import UseByLook
from tests import factories as make
from tests.purchasing.web.board import board, buttons, need, press, pressed, there
from tests.purchasing.web.shelf import look, shelf_lot, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Client:
    return signed_in(make.member("manager", sees_cost=True))


def test_an_old_tab_is_told_what_changed_and_takes_nothing(
    place: Location, leeks: Item, manager: Client
) -> None:
    """Two tabs, one lot: what the second would give away is of figures before the first."""
    lot = shelf_lot(place, of=leeks)
    need(place, leeks, 3)
    look()
    press(manager, lot, "donate|2|")
    late = pressed(manager, lot, "staff_meal|2|", "5", "second")
    assert late.status_code == 409
    text = text_of(late)
    assert (
        f"Leeks {lot.strip} at Mill Lane is not as it was on your page; 5 kg was there, 3 kg is "
        "there now; being worked out again. Nothing was done."
    ) in text
    assert there(lot, place) == 3000
    assert Movement.objects.filter(kind="take_out").count() == 1


def test_an_old_tab_is_asked_again_when_more_is_needed_now(
    place: Location, leeks: Item, manager: Client
) -> None:
    """All of it is still there, but the guests want most of it by now."""
    lot = shelf_lot(place, of=leeks)
    look()
    value = buttons(board(manager))["donate 5 kg"]
    need(place, leeks, 4)
    UseByLook.objects.all().delete()
    look()
    late = pressed(manager, lot, value, "5")
    assert late.status_code == 409
    assert "is not as it was on your page; 1 kg will not be used in time" in text_of(late)
    assert "donate 1 kg" in buttons(text_of(late))
    assert there(lot, place) == 5000


def test_more_of_the_lot_than_the_page_knew_is_asked_about(
    place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    need(place, leeks, 4)
    look()
    make.receive(lot, place, 1000, when=timezone.now())
    assert "5 kg was there, 6 kg is there now" in press(manager, lot, "donate|1|")
    assert there(lot, place) == 6000


@pytest.mark.parametrize("was", ["", "x", "NaN", "5" * 60])
def test_a_press_that_does_not_say_what_was_seen(
    was: str, place: Location, leeks: Item, manager: Client
) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    assert pressed(manager, lot, "donate|5|", was).status_code == 409
    assert there(lot, place) == 5000


def hold(client: Client, lot: Lot, **why: str) -> Any:
    typed = {"key": "k", "at": "COM", "help": "hold", **why}
    return client.post(f"/use-by/{lot.strip}/help/", typed, follow=True)


def test_holding_it_here_with_the_reason(place: Location, leeks: Item, manager: Client) -> None:
    lot = shelf_lot(place, of=leeks)
    look()
    said = text_of(hold(manager, lot, reason="complaint", note="sour"))
    assert f"{lot.strip} is on hold here." in said
    assert "on hold: complaint, sour" in said
    one = Hold.objects.get()
    assert (one.location, one.reason, one.note) == (place, "complaint", "sour")


@pytest.mark.parametrize(
    ("why", "said"),
    [
        ({"note": "smells odd"}, "Choose why it is held."),
        ({"reason": "other"}, "&#x27;other&#x27; alone tells nobody why it is held."),
    ],
)
def test_a_hold_without_a_reason_is_asked_for_it_and_keeps_what_was_typed(
    why: dict[str, str], said: str, place: Location, leeks: Item, manager: Client
) -> None:
    lot, other = shelf_lot(place, of=leeks), shelf_lot(place, of=leeks)
    look()
    response = hold(manager, lot, **why)
    text = text_of(response)
    assert response.status_code == 422
    assert said in text
    assert not Hold.objects.exists()
    row, rest = (text[text.index(f'id="{one.strip}-COM"') :] for one in (lot, other))
    kept = f'value="{why["note"]}"' if "note" in why else '<option value="other" selected>'
    assert kept in row.partition("</li>")[0] and '" open>' in row.partition("</li>")[0]
    assert kept not in rest.partition("</li>")[0] and '" open>' not in rest.partition("</li>")[0]
