"""A draft and the people who have to do with it, for tests of what happens to orders."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User

from inventory.models import Location, Membership
from inventory.selectors.viewers import viewer_of
from purchasing.models import OrderLine, Price, PurchaseOrder
from purchasing.services.order_hand import Hand
from tests import factories as make
from tests.factories import NOW

THURSDAY = date(2026, 3, 5)


def buyer(place: Location | None = None, up_to: Decimal | None = None, **facts: Any) -> User:
    person = make.user(**facts)
    Membership.objects.create(
        user=person,
        role=Membership.Role.BUYER,
        location=place,
        approve_up_to=up_to,
        sees_cost=True,
    )
    return person


def staff(place: Location | None = None) -> User:
    person = make.user()
    Membership.objects.create(user=person, role=Membership.Role.STAFF, location=place)
    return person


def hand(person: User, version: int | None = None, minutes: int = 0) -> Hand:
    return Hand(viewer_of(person), person, NOW + timedelta(minutes=minutes), version)


def draft(*cases: int, **facts: Any) -> PurchaseOrder:
    """For Thursday, order by noon today, one line for each figure, at 12.00 a case, none of
    them flagged."""
    usual: dict[str, Any] = {
        "status": "draft",
        "delivery": THURSDAY,
        "next_delivery": THURSDAY + timedelta(days=3),
        "order_by": NOW + timedelta(hours=3),
        "last_order_by": NOW + timedelta(hours=3),
    }
    supplier = facts.pop("supplier", None) or make.supplier(email="orders@growers.example")
    order = make.order(**{**usual, **facts}, supplier=supplier)
    for count in cases or (2, 3):
        line = make.order_line(order, cases=count, our_cases=count)
        Price.objects.create(offer=line.offer, price=12)
    return order


def line(order: PurchaseOrder, nth: int = 0) -> OrderLine:
    return list(order.lines.order_by("pk"))[nth]


def fresh(order: PurchaseOrder) -> PurchaseOrder:
    return PurchaseOrder.objects.get(pk=order.pk)
