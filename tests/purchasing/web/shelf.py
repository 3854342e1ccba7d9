"""People and lots of one small commissary, for tests of the pages of lots."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone

from inventory.models import Item, Location, Lot
from purchasing.services.use_by_looks import look_if_due
from tests import factories as make

BACKEND = "django.contrib.auth.backends.ModelBackend"


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend=BACKEND)
    return client


def shelf_lot(
    place: Location, *, days: int = 1, qty: int = 5000, of: Item | None = None, **facts: Any
) -> Lot:
    """Received yesterday, at 4.00 a kilogram."""
    now = timezone.now()
    usual = {"use_by": now.date() + timedelta(days=days), "unit_cost": Decimal("0.004")}
    item = of or make.item()
    return make.lot(qty, at=place, of=item, when=now - timedelta(days=1), **{**usual, **facts})


def look() -> None:
    assert look_if_due(at=timezone.now())


def text_of(response: Any) -> str:
    return str(response.content.decode())


def post(client: Client, address: str, key: str = "k", **typed: Any) -> Any:
    return client.post(address, {"key": key, **typed})
