"""Who works at the invented kitchen. They sign in by one press, in the demo only."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User

from inventory.models import Location, Membership
from inventory.services.acts import one_act
from inventory.services.log import note
from purchasing.exchange.demo.places import COMMISSARY, COUNTER

Role = Membership.Role
FIRST = "ottilie"


@dataclass(frozen=True, slots=True)
class Person:
    username: str
    name: tuple[str, str]
    role: Role
    location: str = ""
    approve_up_to: Decimal | None = None
    sees_cost: bool = False


PEOPLE = (
    Person(FIRST, ("Ottilie", "Marsh"), Role.OWNER, sees_cost=True),
    Person("bram", ("Bram", "Okafor"), Role.BUYER, "", Decimal(900), sees_cost=True),
    Person("wen", ("Wen", "Adeyemi"), Role.STAFF, COMMISSARY),
    Person("sunniva", ("Sunniva", "Bell"), Role.PREP_LEAD, COMMISSARY),
    Person("teo", ("Teo", "Lindqvist"), Role.TRUCK_LEAD, "PLEAT"),
    Person("marisol", ("Marisol", "Quaye"), Role.MANAGER, sees_cost=True),
    Person("ivo", ("Ivo", "Hartnell"), Role.MANAGER, COUNTER, sees_cost=True),
)


@one_act
def hire_people(*, at: datetime) -> str:
    """Make the demo's people where there is nobody yet. Returns the owner's password, printed
    once, or an empty text."""
    if User.objects.exists():
        return ""
    password = secrets.token_urlsafe(12)
    places = {place.code: place for place in Location.objects.all()}
    for person in PEOPLE:
        first, last = person.name
        user = User.objects.create_user(
            person.username,
            password=password if person.username == FIRST else None,
            first_name=first,
            last_name=last,
        )
        Membership.objects.create(
            user=user,
            role=person.role,
            location=places[person.location] if person.location else None,
            approve_up_to=person.approve_up_to,
            sees_cost=person.sees_cost,
        )
        note("join", f"person:{person.username}", by=None, at=at, changes={"role": person.role})
    return password
