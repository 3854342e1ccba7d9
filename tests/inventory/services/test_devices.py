"""Shared devices and personal numbers."""

from __future__ import annotations

import pytest
from django.contrib.auth.hashers import check_password

from inventory.models import Device, Event, Location, PersonalNumber
from inventory.problems import NotThere, Refused
from inventory.roles import Viewer
from inventory.selectors.viewers import viewer_of
from inventory.services.devices import add_device, retire_device, set_number
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Location:
    return make.location(code="MILL")


@pytest.fixture
def viewer() -> Viewer:
    return viewer_of(make.manager())


def add(viewer: Viewer, name: str = "Dock tablet", place: str = "MILL") -> Device:
    return add_device(name, place, digest=f"digest of {name}", viewer=viewer, by=None, at=NOW)


def test_a_device_is_added_and_retired_once(place: Location, viewer: Viewer) -> None:
    assert add(viewer).location == place
    retire_device("Dock tablet", viewer=viewer, by=None, at=NOW)
    retire_device("Dock tablet", viewer=viewer, by=None, at=NOW)
    assert Device.objects.get().retired_on == TODAY
    assert [event.verb for event in Event.objects.order_by("pk")] == ["add", "retire"]


@pytest.mark.parametrize(
    ("name", "code", "fields"),
    [
        ("", "MILL", ["device_name"]),
        ("tab\0let", "MILL", ["device_name"]),
        ("x" * 81, "MOON", ["device_place", "device_name"]),
    ],
    ids=["no name", "a sign nobody sees", "long name at no place"],
)
def test_problems_are_said_at_once(
    place: Location, viewer: Viewer, name: str, code: str, fields: list[str]
) -> None:
    with pytest.raises(Refused) as refused:
        add(viewer, name, code)
    assert [problem.field for problem in refused.value.problems] == fields


def test_a_name_is_used_once(place: Location, viewer: Viewer) -> None:
    add(viewer)
    with pytest.raises(Refused, match="There is a device 'Dock tablet' already"):
        add(viewer)


def test_devices_of_other_places_are_not_there(place: Location, viewer: Viewer) -> None:
    add(viewer)
    local = viewer_of(make.manager(make.location(code="YARD")))
    with pytest.raises(NotThere):
        retire_device("Dock tablet", viewer=local, by=None, at=NOW)
    with pytest.raises(Refused):
        add(local, "Other")
    with pytest.raises(Refused):
        add(local, "Other", "")


def test_a_new_number_replaces_the_old(viewer: Viewer) -> None:
    wen = make.member("staff")
    for number in ("204817", "771302"):
        set_number(wen.username, number, viewer=viewer, by=None, at=NOW)
    digest = PersonalNumber.objects.get(user=wen).digest
    assert check_password("771302", digest)
    assert "771302" not in str(list(Event.objects.values()))
