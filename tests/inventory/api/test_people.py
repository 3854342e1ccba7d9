"""People through the API: nobody gives more than they have."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.models import Location, Membership
from tests import factories as make
from tests.asking import Asker, asker

pytestmark = pytest.mark.django_db

NEW = {"username": "mo", "first_name": "Mo", "role": "staff", "location": "COM"}


@pytest.fixture
def here() -> Location:
    return make.location(code="COM")


@pytest.fixture
def boss(here: Location) -> Asker:
    return asker("manager", here)


def test_somebody_is_invited_given_another_part_and_ended(boss: Asker) -> None:
    invited = boss.post("people/invite/", NEW)
    assert (invited.status, invited.body["username"]) == (201, "mo")
    assert invited.body["parts"][0]["role"] == "staff"
    given = boss.post("people/mo/parts/give/", {"role": "buyer", "location": "COM"})
    assert [part["role"] for part in given.body["parts"]] == ["buyer", "staff"]
    limit = {"role": "buyer", "location": "COM", "approve_up_to": "250.50"}
    changed = boss.post("people/mo/parts/change/", limit)
    assert changed.body["parts"][0]["approve_up_to"] == "250.5"
    for role in ("buyer", "staff"):
        ended = boss.post("people/mo/parts/end/", {"role": role, "location": "COM"})
    assert (ended.body["may_sign_in"], ended.body["parts"]) == (False, [])


def test_the_list_is_of_people_one_has_to_do_with(here: Location, boss: Asker) -> None:
    boss.post("people/invite/", NEW)
    asker("staff", make.location())
    assert boss.user is not None
    names = {row["username"] for row in boss.get("people/").rows}
    assert names == {"mo", boss.user.username}
    assert asker("staff", here).get("people/").status == 404


def test_nobody_gives_more_than_they_have(here: Location, boss: Asker) -> None:
    assert boss.user is not None
    Membership.objects.filter(user=boss.user).update(approve_up_to=Decimal(100))
    wrong = {**NEW, "role": "buyer", "approve_up_to": "200", "sees_cost": True}
    answer = boss.post("people/invite/", wrong)
    fields = {one["field"] for one in answer.body["problems"]}
    assert (answer.status, fields) == (422, {"approve_up_to", "sees_cost"})
    everywhere = boss.post("people/invite/", {**NEW, "location": None})
    assert (everywhere.status, everywhere.body["problems"][0]["field"]) == (403, "location")


def test_a_part_that_is_not_there_is_not_there(boss: Asker) -> None:
    boss.post("people/invite/", NEW)
    nobody = boss.post("people/jo/parts/end/", {"role": "staff", "location": "COM"})
    no_part = boss.post("people/mo/parts/end/", {"role": "buyer", "location": "COM"})
    assert nobody.status == no_part.status == 404


def test_queries_do_not_grow_with_people(
    here: Location, boss: Asker, count_queries: Callable[..., int]
) -> None:
    for _ in range(3):
        asker("staff", here)
    boss.get("people/")
    few = count_queries(boss.get, "people/")
    for _ in range(57):
        asker("staff", here)
    assert count_queries(boss.get, "people/") == few
    assert len(boss.get("people/").rows) == 61
