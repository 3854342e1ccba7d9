"""Shared tablets and phones, and the personal numbers by which people sign in at them."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib.auth.hashers import make_password

from inventory.exchange.grammar import shown
from inventory.models import Device, Location, PersonalNumber
from inventory.models.words import CODE_PATTERN
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.people import manages
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.people import one_time_address_for

if TYPE_CHECKING:
    from django.contrib.auth.models import User

LONGEST_NAME = 80


@one_act
def add_device(
    name: str, place: str, *, digest: str, viewer: Viewer, by: User | None, at: datetime
) -> Device:
    """``digest``: of the token in the address that is opened once on the device."""
    name = name.strip()
    location, problems = _place(place, viewer)
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        words = f"Name the device in 1 to {LONGEST_NAME} letters, such as 'tablet at the dock'."
        problems.append(Problem("device_name", words, "device_name"))
    elif Device.objects.filter(name=name).exists():
        words = f"There is a device '{name}' already, perhaps a retired one: choose another name."
        problems.append(Problem("device_taken", words, "device_name"))
    if problems:
        raise Refused(problems)
    device = Device.objects.create(name=name, token_digest=digest, location=location)
    told = {"place": ["", place or "everywhere"]}
    note("add", f"device:{name}", by=by, at=at, changes=told, device=viewer.device)
    return device


@one_act
def take_up(digest: str, *, fresh: str, at: datetime) -> None:
    """The address was opened on the device, which is known by ``fresh`` (the digest of another
    token) from now on: the address is worth nothing any more."""
    device = Device.objects.filter(token_digest=digest, retired_on=None).first()
    taken = Device.objects.filter(token_digest=digest, retired_on=None).update(token_digest=fresh)
    if device is None or not taken:
        raise NotThere
    note("take_up", f"device:{device.name}", by=None, at=at)


@one_act
def retire_device(name: str, *, viewer: Viewer, by: User | None, at: datetime) -> None:
    """It is asked to sign in as any other from now on; a second press changes nothing."""
    device = Device.objects.filter(name=name).first()
    if device is None or not manages(viewer, device.location_id):
        raise NotThere
    if device.retired_on is None:
        device.retired_on = business().day_of(at)
        device.save(update_fields=["retired_on"])
        note("retire", f"device:{name}", by=by, at=at, device=viewer.device)


@one_act
def set_number(
    username: str, number: str, *, viewer: Viewer, by: User | None, at: datetime
) -> None:
    """A new personal number; the one before is worth nothing from now on."""
    user = one_time_address_for(username, viewer)
    kept = {"digest": make_password(number), "set_at": at}
    PersonalNumber.objects.update_or_create(user=user, defaults=kept)
    note("set_number", f"person:{username}", by=by, at=at, device=viewer.device)


def _place(code: str, viewer: Viewer) -> tuple[Location | None, list[Problem]]:
    known = Location.objects.filter(retired_on=None)
    location = known.filter(code=code).first() if CODE_PATTERN.fullmatch(code) else None
    if code and location is None:
        return None, [Problem("place", f"There is no location {shown(code)}.", "device_place")]
    if not viewer.may(Act.PEOPLE) or not manages(viewer, location.pk if location else None):
        words = "Choose a location whose people you manage."
        return None, [Problem("not_allowed", words, "device_place")]
    return location, []
