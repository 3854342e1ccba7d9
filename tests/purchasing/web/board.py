"""The use-by board as tests read it and press on it."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from inventory.models import Booking, Item, Location, Lot, OnHand
from tests.purchasing.web.shelf import text_of


def board(client: Client, query: str = "") -> str:
    response = client.get(f"/use-by/{query}")
    assert response.status_code == 200
    return text_of(response)


def buttons(text: str) -> dict[str, str]:
    """By the words on it: what the button sends."""
    found = re.findall(r'name="help" value="([^"]*)">([^<]*)', text)
    return {words.strip(): value for value, words in found}


def press(client: Client, lot: Lot, value: str, was: str = "5", key: str = "k") -> str:
    """``was``: how much the page had when it was made."""
    return text_of(pressed(client, lot, value, was, key))


def pressed(client: Client, lot: Lot, value: str, was: str, key: str = "k") -> Any:
    typed = {"key": key, "at": "COM", "help": value, "there": was}
    return client.post(f"/use-by/{lot.strip}/help/", typed, follow=True)


def need(place: Location, item: Item, kilograms: int) -> None:
    """Some of it is asked for tomorrow, so that only the rest will be lost."""
    tomorrow = timezone.now().date() + timedelta(days=1)
    Booking.objects.create(location=place, date=tomorrow, item=item, qty=kilograms, unit="kg")


def there(lot: Lot, place: Location) -> int:
    return int(OnHand.objects.get(lot=lot, location=place).qty)
