"""The first person of a kitchen."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User

from inventory.models import Event
from inventory.problems import Refused
from inventory.roles import Act
from inventory.selectors.viewers import viewer_of
from inventory.services.first_owner import make_first_owner
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_the_first_owner_may_everything_and_signs_in_with_the_password() -> None:
    password = make_first_owner("ines", at=make.NOW)
    ines = User.objects.get(username="ines")
    assert ines.check_password(password)
    assert all(viewer_of(ines).may_everywhere(act) for act in Act)
    assert Event.objects.get().subject == "person:ines"


def test_where_people_work_nobody_makes_themselves_owner() -> None:
    make.member("staff")
    with pytest.raises(Refused, match="a manager invites others"):
        make_first_owner("ines", at=make.NOW)


@pytest.mark.parametrize("name", ["", "  ", "taken"])
def test_a_name_is_needed_that_nobody_has(name: str) -> None:
    make.user(username="taken")
    with pytest.raises(Refused, match="that nobody has yet"):
        make_first_owner(name, at=make.NOW)
