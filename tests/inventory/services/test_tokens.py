"""A token opens the API in its person's name, until it is retired."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import ApiToken, Event, Membership
from inventory.problems import NotThere, Refused
from inventory.services.tokens import make_token, retire_token, user_of_token
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_a_token_is_its_persons_and_is_not_kept() -> None:
    ines = make.user()
    token = make_token(ines, " till ", ines, make.NOW)
    assert user_of_token(token, at=make.NOW) == ines
    (row,) = ApiToken.objects.all()
    assert row.name == "till"
    assert token not in row.digest
    assert Event.objects.get().changes == {"name": "till"}


def test_the_day_of_its_last_use_is_known() -> None:
    ines = make.user()
    token = make_token(ines, "till", ines, make.NOW)
    assert ApiToken.objects.get().last_used_on is None
    user_of_token(token, at=make.NOW + timedelta(days=2))
    assert ApiToken.objects.get().last_used_on == make.TODAY + timedelta(days=2)


def test_a_retired_token_opens_nothing() -> None:
    ines = make.user()
    token = make_token(ines, "till", ines, make.NOW)
    for _ in range(2):
        retire_token(ApiToken.objects.get(), ines, make.NOW)
    assert user_of_token(token, at=make.NOW) is None
    assert [event.verb for event in Event.objects.order_by("pk")] == ["make_token", "retire_token"]


def test_nor_does_the_token_of_somebody_who_left() -> None:
    ines = make.user()
    token = make_token(ines, "till", ines, make.NOW)
    ines.is_active = False
    ines.save()
    assert user_of_token(token, at=make.NOW) is None


@pytest.mark.parametrize("made_up", ["", "x", "é" * 300])
def test_a_made_up_token_is_nobodys(made_up: str) -> None:
    assert user_of_token(made_up, at=make.NOW) is None


def test_others_need_somebody_who_manages_all_that_they_do() -> None:
    place = make.location()
    ines, elsewhere = make.manager(place), make.manager(make.location())
    owner = make.user()
    Membership.objects.create(user=owner, role="owner")
    with pytest.raises(NotThere):
        make_token(ines, "till", elsewhere, make.NOW)
    with pytest.raises(Refused):
        make_token(owner, "till", make.manager(), make.NOW)
    make_token(ines, "till", make.manager(), make.NOW)
    with pytest.raises(NotThere):
        retire_token(ApiToken.objects.get(), elsewhere, make.NOW)


@pytest.mark.parametrize("name", ["", "  ", "n" * 81])
def test_it_says_what_it_is_for(name: str) -> None:
    ines = make.user()
    with pytest.raises(Refused, match="what the token is for"):
        make_token(ines, name, ines, make.NOW)


def test_the_command_prints_it_once() -> None:
    ines, out = make.user(), StringIO()
    call_command("make_token", ines.username, "till", stdout=out)
    assert user_of_token(out.getvalue().strip(), at=make.NOW) == ines


def test_the_command_knows_nobody_else(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        call_command("make_token", "nobody", "till")
    assert "There is nobody called 'nobody'." in capsys.readouterr().err
