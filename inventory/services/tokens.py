"""Tokens by which programs ask the API in a person's name."""

from __future__ import annotations

import secrets
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from inventory.models import ApiToken
from inventory.problems import Problem, Refused
from inventory.selectors.business import business
from inventory.selectors.viewers import viewer_of
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.people import one_time_address_for

if TYPE_CHECKING:
    from django.contrib.auth.models import User

LONGEST_NAME = 80


@one_act
def make_token(user: User, name: str, by: User | None, at: datetime) -> str:
    """A new token for ``user``; what is returned is shown once and kept nowhere.

    A person makes their own, or somebody who may do all that it lets its holder do: who may
    make a one-time address for them. ``by`` None: from the command line.
    """
    _may_stand_for(user, by)
    if problems := _not_a_name(name):
        raise Refused(problems)
    token = secrets.token_urlsafe(32)
    ApiToken.objects.create(user=user, name=name.strip(), digest=digest_of(token), created_at=at)
    note(
        "make_token", f"person:{user.get_username()}", by=by, at=at, changes={"name": name.strip()}
    )
    return token


@one_act
def retire_token(token: ApiToken, by: User | None, at: datetime) -> None:
    """From now on it opens nothing. Twice is once."""
    _may_stand_for(token.user, by)
    if ApiToken.objects.filter(pk=token.pk, retired_at__isnull=True).update(retired_at=at):
        subject = f"person:{token.user.get_username()}"
        note("retire_token", subject, by=by, at=at, changes={"name": token.name})


def user_of_token(token: str, *, at: datetime) -> User | None:
    """Whose token it is; None if nobody's, retired, or its person gone. Writes down the day on
    which it was last used."""
    found = ApiToken.objects.filter(
        digest=digest_of(token), retired_at__isnull=True, user__is_active=True
    )
    row = found.select_related("user").first()
    if row is None:
        return None
    today = business().day_of(at)
    if row.last_used_on != today:
        ApiToken.objects.filter(pk=row.pk).update(last_used_on=today)
    return row.user


def digest_of(token: str) -> str:
    """Tokens are long and random: one round is enough, unlike for passwords."""
    return sha256(token.encode()).hexdigest()


def _may_stand_for(user: User, by: User | None) -> None:
    if by is not None and by != user:
        one_time_address_for(user.get_username(), viewer_of(by))


def _not_a_name(name: str) -> list[Problem]:
    if 0 < len(name.strip()) <= LONGEST_NAME:
        return []
    message = f"Say in 1 to {LONGEST_NAME} characters what the token is for, such as 'till'."
    return [Problem("token_name", message, "name")]
