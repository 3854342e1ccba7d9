"""Rows for tests, made with as little as a test wants to say. Stock comes through services."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from inventory.models import Item, Location, Lot, Membership, Movement, Setting
from inventory.services.ledger import Entry, post
from inventory.services.lots import new_lots
from purchasing.models import Offer, OrderLine, PurchaseOrder, Supplier

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)
TODAY = date(2026, 3, 4)
_numbers = count(1)


def item(**facts: Any) -> Item:
    number = next(_numbers)
    usual = {"code": f"ITEM{number}", "name": f"Item {number}", "kind": "ingredient", "unit": "kg"}
    return Item.objects.create(**{**usual, **facts})


def location(**facts: Any) -> Location:
    number = next(_numbers)
    usual = {"code": f"PLACE{number}", "name": f"Place {number}", "kind": "commissary"}
    return Location.objects.create(**{**usual, **facts})


def user(**facts: Any) -> User:
    return User.objects.create_user(**{"username": f"user{next(_numbers)}", **facts})


def manager(place: Location | None = None) -> User:
    person = user()
    Membership.objects.create(user=person, role=Membership.Role.MANAGER, location=place)
    return person


def member(role: str, place: Location | None = None, **facts: Any) -> User:
    """A person with one membership; ``place`` None: everywhere."""
    person = user()
    Membership.objects.create(user=person, role=role, location=place, **facts)
    return person


def time_zone(name: str) -> None:
    Setting.objects.update_or_create(key="time_zone", defaults={"value": name})


def lot(
    qty: int | Decimal = 0,
    *,
    at: Location | None = None,
    of: Item | None = None,
    when: datetime = NOW,
    **facts: Any,
) -> Lot:
    """A received lot, with ``qty`` base units at a location if more than 0."""
    with transaction.atomic():
        usual = {"origin": Lot.Origin.RECEIPT, "received_on": when.date()}
        (made,) = new_lots([Lot(item=of or item(), **{**usual, **facts})])
        if qty:
            receive(made, at or location(), qty, when=when)
    return made


def receive(
    received: Lot, place: Location, qty: int | Decimal, *, when: datetime = NOW
) -> Movement:
    entry = Entry(Movement.Kind.RECEIPT, received, place, Decimal(qty), when, "receipt:1")
    with transaction.atomic():
        return post([entry], by=None, at=when)[0]


def supplier(**facts: Any) -> Supplier:
    number = next(_numbers)
    usual: dict[str, Any] = {
        "code": f"S{number}",
        "name": f"Supplier {number}",
        "order_days": [0, 3],
        "cutoff": "14:00",
        "lead_days": 1,
        "delivery_days": [1, 4],
    }
    return Supplier.objects.create(**{**usual, **facts})


def offer(**facts: Any) -> Offer:
    usual: dict[str, Any] = {"pack_qty": Decimal(10), "pack_unit": "kg"}
    facts.setdefault("supplier", None)
    facts["supplier"] = facts["supplier"] or supplier()
    facts.setdefault("item", None)
    facts["item"] = facts["item"] or item()
    return Offer.objects.create(**{**usual, **facts})


def order(**facts: Any) -> PurchaseOrder:
    number = f"PO{next(_numbers)}"
    usual: dict[str, Any] = {"number": number, "delivery": TODAY, "status": "sent"}
    if "supplier" not in facts:
        facts["supplier"] = supplier()
    if "location" not in facts:
        facts["location"] = location()
    return PurchaseOrder.objects.create(**{**usual, **facts})


def order_line(of: PurchaseOrder, **facts: Any) -> OrderLine:
    sold = facts.pop("offer", None) or offer(supplier=of.supplier)
    usual: dict[str, Any] = {
        "cases": 2,
        "pack_qty": Decimal(10),
        "pack_unit": "kg",
        "pack_base": Decimal(10000),
        "price": Decimal(12),
        "priced_per": "case",
        "priced_units": Decimal(1),
    }
    return OrderLine.objects.create(order=of, offer=sold, item=sold.item, **{**usual, **facts})
