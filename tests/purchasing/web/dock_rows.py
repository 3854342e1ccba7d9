"""Deliveries as pages see them, made with as little as a test wants to say."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone

from inventory.models import Item, Location, Membership
from purchasing.models import Offer, OrderLine, PurchaseOrder
from purchasing.selectors.on_order import open_cases
from tests import factories as make
from tests.purchasing.services.dock_scenes import chilled, ordered

BACKEND = "django.contrib.auth.backends.ModelBackend"
BEEF_GTIN = "90614141000121"


def now() -> datetime:
    return timezone.now()


def coming(*items: Item, place: Location | None = None, **facts: Any) -> PurchaseOrder:
    """A delivery of today."""
    facts.setdefault("delivery", now().date())
    return ordered(*items, place=place, **facts)


def signed_in(client: Client, place: Location | None = None, role: str = "staff") -> User:
    user = make.member(Membership.Role(role), place)
    client.force_login(user, backend=BACKEND)
    return user


def filled(order: PurchaseOrder, **more: str) -> dict[str, str]:
    """The form as a browser sends it, every line as ordered."""
    values = {"key": f"key-{order.pk}", "version": str(order.version), "temp_unit": "F"}
    values |= {"g-chilled-temp": "38", "g-frozen-hard": "yes"}
    for line in OrderLine.objects.filter(order=order):
        values[f"l{line.pk}-how"] = "ordered"
        values[f"l{line.pk}-expected"] = str(open_cases(line))
    return values | more


MADE, LAST = now().date() - timedelta(days=2), now().date() + timedelta(days=20)
LABEL = f"01{BEEF_GTIN}320200412511{MADE:%y%m%d}17{LAST:%y%m%d}10L2606A"


def address(order: PurchaseOrder) -> str:
    return f"/deliveries/{order.number}/"


def name(order: PurchaseOrder, field: str) -> str:
    return f"l{OrderLine.objects.get(order=order).pk}-{field}"


def weighed(client: Client) -> PurchaseOrder:
    """Two cases of beef by weight, with the GTIN of its label."""
    order = coming(chilled(name="Beef chuck"))
    Offer.objects.filter(order_lines__order=order).update(
        gtin=BEEF_GTIN, catch_weight=True, nominal_qty=Decimal(40), pack_unit="lb"
    )
    order.lines.update(
        cases=2,
        pack_unit="lb",
        pack_qty=Decimal(40),
        pack_base=Decimal("18143.6948"),
        priced_per="lb",
        priced_units=Decimal(40),
    )
    signed_in(client)
    return order
