"""Every address x every role x own and other place: what is not for somebody is not there."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.test import Client
from pytest_django import Settings

from inventory.models import Event, Membership
from inventory.roles import ACTS_OF, Act
from tests import factories as make
from tests.site.map import PAGES, PRESSES, Scene, address, names, scene

pytestmark = pytest.mark.django_db
BACKEND = "django.contrib.auth.backends.ModelBackend"
ROLES = [str(role) for role in Membership.Role]


@pytest.fixture(autouse=True)
def _uploads(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def own() -> Scene:
    return scene()


@pytest.fixture
def other() -> Scene:
    return scene()


def test_every_address_is_on_the_map() -> None:
    assert sorted(set(names()) - set(PAGES) - set(PRESSES)) == []
    assert sorted((set(PAGES) | set(PRESSES)) - set(names())) == []


def test_who_has_not_signed_in_gets_nowhere(client: Client, own: Scene) -> None:
    for name, one in PAGES.items():
        answer = client.get(address(name, one, own))
        assert (name, answer.status_code) == (name, 302)
        assert answer.url.startswith("/sign-in/")  # type: ignore[attr-defined]
    for name, one in PRESSES.items():
        answer = client.post(address(name, one, own), {"key": name})
        assert (name, answer.status_code) == (name, 302)


def opened(client: Client, where: str) -> int:
    """The status at the end of the way; a file that is sent is read to its end."""
    answer = client.get(where, follow=True)
    if answer.streaming:
        b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    return answer.status_code


@pytest.mark.parametrize("role", ROLES)
def test_a_page_opens_for_those_who_may_and_is_not_there_for_others(
    client: Client, own: Scene, other: Scene, role: str
) -> None:
    client.force_login(make.member(role, own.place), backend=BACKEND)
    found = {name: opened(client, address(name, one, own)) for name, one in PAGES.items()}
    allowed = {name for name, one in PAGES.items() if one.act in ACTS_OF[role]}
    allowed -= {name for name, one in PAGES.items() if one.everywhere}
    assert found == {name: 200 if name in allowed else 404 for name in PAGES}


def test_what_is_of_the_whole_business_opens_for_those_who_manage_all_of_it(
    client: Client, own: Scene
) -> None:
    client.force_login(make.manager(), backend=BACKEND)
    found = {name: opened(client, address(name, one, own)) for name, one in PAGES.items()}
    assert found == dict.fromkeys(PAGES, 200)


@pytest.mark.parametrize("role", ROLES)
def test_nothing_of_another_place_is_there(
    client: Client, own: Scene, other: Scene, role: str
) -> None:
    client.force_login(make.member(role, own.place), backend=BACKEND)
    bound = {name: one for name, one in PAGES.items() if one.bound}
    found = {name: opened(client, address(name, one, other)) for name, one in bound.items()}
    assert found == dict.fromkeys(bound, 404)


@pytest.mark.parametrize("role", ROLES)
def test_a_press_by_somebody_who_may_not_changes_nothing(
    client: Client, own: Scene, other: Scene, role: str
) -> None:
    client.force_login(make.member(role, own.place), backend=BACKEND)
    before = Event.objects.count()
    found = {}
    for name, one in PRESSES.items():
        if one.act not in ACTS_OF[role]:
            found[name] = client.post(address(name, one, own), {"key": name}).status_code
        if one.bound:
            where = address(name, one, other)
            found[f"{name} elsewhere"] = client.post(where, {"key": f"{name}-2"}).status_code
    # 422: the form was wrong before anybody looked whose it is
    assert {name: said for name, said in found.items() if said not in (404, 422)} == {}
    assert Event.objects.count() == before


def test_a_press_is_not_a_page(client: Client, own: Scene) -> None:
    client.force_login(make.manager(), backend=BACKEND)
    for name, one in PRESSES.items():
        assert (name, client.get(address(name, one, own)).status_code) == (name, 405)


def test_roles_without_an_act_are_met_somewhere() -> None:
    assert {one.act for one in PAGES.values()} - {Act.SEE}
