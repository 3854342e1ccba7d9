"""Tokens by which programs ask the API in a person's name."""

from __future__ import annotations

import secrets
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from inventory.models import ApiToken
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.people import visible
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

    Only an owner makes one, for themselves or for whom they might make a one-time address.
    ``by`` None: from the command line.
    """
    if by is not None:
        _demand_owner(viewer_of(by))
        _may_stand_for(user, viewer_of(by))
    if problems := _not_a_name(name):
        raise Refused(problems)
    return _made(user, name, by, at)


@one_act
def give_token(username: str, name: str, *, viewer: Viewer, by: User | None, at: datetime) -> str:
    """The same from a page, with everything that is missing said at once."""
    _demand_owner(viewer)
    user = visible(viewer).filter(username=username, is_active=True).first()
    problems = _not_a_name(name)
    if user is None:
        message = "Choose in whose name it asks: it may do what that person may."
        problems = [Problem("no_person", message, "person"), *problems]
    if user is None or problems:
        raise Refused(problems)
    _may_stand_for(user, viewer)
    return _made(user, name, by, at)


@one_act
def end_token(token_id: int, *, viewer: Viewer, by: User | None, at: datetime) -> ApiToken:
    """From now on it opens nothing. Twice is once. Whoever it is of, an owner ends it."""
    _demand_owner(viewer)
    token = ApiToken.objects.select_related("user").filter(pk=token_id).first()
    if token is None:
        raise NotThere
    _end(token, by, at)
    return token


@one_act
def retire_token(token: ApiToken, by: User | None, at: datetime) -> None:
    """The same of a token at hand. ``by`` None: from the command line."""
    if by is not None:
        _demand_owner(viewer_of(by))
    _end(token, by, at)


def _made(user: User, name: str, by: User | None, at: datetime) -> str:
    token, told = secrets.token_urlsafe(32), {"name": name.strip()}
    ApiToken.objects.create(user=user, name=name.strip(), digest=digest_of(token), created_at=at)
    note("make_token", f"person:{user.get_username()}", by=by, at=at, changes=told)
    return token


def _end(token: ApiToken, by: User | None, at: datetime) -> None:
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


def _demand_owner(viewer: Viewer) -> None:
    """At a shared tablet nobody is: a token outlasts whoever stands there."""
    if not viewer.may_everywhere(Act.TOKENS):
        message = "Tokens are made and ended by an owner of the whole business. Ask one."
        raise Refused(Problem("not_allowed", message))


def _may_stand_for(user: User, viewer: Viewer) -> None:
    """What it lets its holder do is no more than an owner might do anyway."""
    if user.pk != viewer.user_id:
        one_time_address_for(user.get_username(), viewer)


def _not_a_name(name: str) -> list[Problem]:
    if 0 < len(name.strip()) <= LONGEST_NAME:
        return []
    message = f"Say in 1 to {LONGEST_NAME} characters what the token is for, such as 'till'."
    return [Problem("token_name", message, "name")]
