"""The first person of a kitchen, who invites everybody else."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.contrib.auth.models import User

from inventory.models import Membership
from inventory.problems import Problem, Refused
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.turns import one_at_a_time


@one_act
def make_first_owner(username: str, *, at: datetime) -> str:
    """Make an owner of everything; returns the password, which is shown once and kept nowhere.
    Refused as soon as somebody works here."""
    one_at_a_time("people")
    if Membership.objects.filter(user__is_active=True).exists():
        raise Refused(
            Problem(
                "people_exist", "People work here already: a manager invites others on /people/."
            )
        )
    if not username.strip() or User.objects.filter(username=username.strip()).exists():
        raise Refused(Problem("username", "Give a name to sign in with that nobody has yet."))
    password = secrets.token_urlsafe(12)
    user = User.objects.create_user(username.strip(), password=password)
    Membership.objects.create(user=user, role=Membership.Role.OWNER, sees_cost=True)
    note("join", f"person:{user.username}", by=None, at=at, changes={"part": ["", "owner"]})
    return password
