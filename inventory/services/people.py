"""People: invited, given a part, limited, ended; shared devices and personal numbers.

Nobody raises what they may do themselves, nobody gives more than they have, and somebody who
manages the whole business is always left. People are never deleted: who has no part any more
cannot sign in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User

from inventory.exchange.grammar import Column, Wrong, email, number, parsed, shown, text
from inventory.models import Location, Membership, PersonalNumber
from inventory.models.words import CODE_PATTERN
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.people import (
    approves,
    is_owner,
    manages,
    membership_words,
    person_for,
)
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.turns import one_at_a_time

Role = Membership.Role
_USERNAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,39}")
_TURN = "people"


@dataclass(frozen=True, slots=True)
class TypedPart:
    """A membership as typed. ``place``: code, blank: every location; ``limit``: blank: none."""

    role: str
    place: str = ""
    limit: str = ""
    sees_cost: bool = False


@dataclass(frozen=True, slots=True)
class TypedPerson:
    """``username``: by which somebody signs in."""

    username: str
    first_name: str
    last_name: str = ""
    email: str = ""


@one_act
def invite(
    person: TypedPerson, part: TypedPart, *, viewer: Viewer, by: User | None, at: datetime
) -> User:
    """Somebody new, who sets the password at the one-time address."""
    wanted, problems = _wanted(part, viewer)
    problems = [*_person_problems(person), *problems]
    if problems or wanted is None:
        raise Refused(problems)
    user = User.objects.create_user(
        username=person.username.strip(),
        first_name=person.first_name.strip(),
        last_name=person.last_name.strip(),
        email=person.email.strip(),
    )
    wanted.user = user
    wanted.save()
    told = {"part": ["", membership_words(wanted)]}
    note("invite", f"person:{user.username}", by=by, at=at, changes=told, device=viewer.device)
    return user


@one_act
def give_part(
    username: str, part: TypedPart, *, viewer: Viewer, by: User | None, at: datetime
) -> Membership:
    """One membership more; somebody who had none may sign in again."""
    user = person_for(username, viewer)
    if user.pk == viewer.user_id:
        raise Refused(Problem("own_limit", "Nobody gives themselves a part: ask another manager."))
    wanted, problems = _wanted(part, viewer)
    if problems or wanted is None:
        raise Refused(problems)
    same = {"user": user, "role": wanted.role, "location": wanted.location}
    if Membership.objects.filter(**same).exists():
        raise Refused(
            Problem("part_twice", f"{_name(user)} has that part there: change its limit.", "role")
        )
    wanted.user = user
    wanted.save()
    if not user.is_active:
        user.is_active = True
        user.save(update_fields=["is_active"])
    told = {"part": ["", membership_words(wanted)]}
    note("give_part", f"person:{user.username}", by=by, at=at, changes=told, device=viewer.device)
    return wanted


@one_act
def change_part(
    part_id: int,
    *,
    limit: str,
    sees_cost: bool,
    viewer: Viewer,
    by: User | None,
    at: datetime,
) -> Membership:
    """Another limit, or seeing costs or not. Role and place: end the part, give another."""
    row = _part_for(part_id, viewer)
    problems, value = _limit_problems(limit, row.role, row.location, viewer)
    problems += _cost_problems(sees_cost and not row.sees_cost, row.location, viewer)
    if row.user_id == viewer.user_id and not problems:
        problems = list(_raises(row, value, sees_cost))
    if problems:
        raise Refused(problems)
    before = membership_words(row)
    row.approve_up_to, row.sees_cost = value, sees_cost
    row.save(update_fields=["approve_up_to", "sees_cost"])
    if before != membership_words(row):
        told = {"part": [before, membership_words(row)]}
        note(
            "change_part",
            f"person:{row.user.username}",
            by=by,
            at=at,
            changes=told,
            device=viewer.device,
        )
    return row


@one_act
def end_part(part_id: int, *, viewer: Viewer, by: User | None, at: datetime) -> bool:
    """Whether it was the person's last: then they cannot sign in any more."""
    one_at_a_time(_TURN)
    row = _part_for(part_id, viewer)
    user = row.user
    if _runs_everything(row) and not _others_run_everything(row):
        what = "owner" if row.role == Role.OWNER else "who manages the whole business"
        words = f"{_name(user)} is the last {what}. Make somebody else one first."
        raise Refused(Problem("last_manager", words))
    told = {"part": [membership_words(row), ""]}
    row.delete()
    is_last = not Membership.objects.filter(user=user).exists()
    if is_last:
        user.is_active = False
        user.save(update_fields=["is_active"])
        PersonalNumber.objects.filter(user=user).delete()
    note("end_part", f"person:{user.username}", by=by, at=at, changes=told, device=viewer.device)
    return is_last


def one_time_address_for(username: str, viewer: Viewer) -> User:
    """Whom a fresh address may be made for: it lets whoever opens it set the password, so it
    takes somebody who manages all of that person's parts."""
    user = person_for(username, viewer)
    rows = list(user.memberships.all())
    if not user.is_active or not rows:
        raise Refused(Problem("no_part", f"{_name(user)} has no part any more: give one first."))
    if not all(_may_manage(row, viewer) for row in rows):
        raise Refused(_not_yours(user))
    if any(_is_above(row, viewer) for row in rows):
        words = f"{_name(user)} may approve more than you: somebody with that limit does this."
        raise Refused(Problem("above_own_limit", words))
    return user


@one_act
def note_address(username: str, *, viewer: Viewer, by: User | None, at: datetime) -> User:
    """A fresh one-time address was asked for; the address itself is made where it is shown."""
    user = one_time_address_for(username, viewer)
    note("make_address", f"person:{user.username}", by=by, at=at, device=viewer.device)
    return user


@one_act
def password_was_set(user: User, *, at: datetime) -> None:
    """At the one-time address, which is worth nothing from now on."""
    note("set_password", f"person:{user.username}", by=user, at=at)


def _wanted(part: TypedPart, viewer: Viewer) -> tuple[Membership | None, list[Problem]]:
    location, problems = _place(part.place, viewer)
    if part.role not in Role.values:
        problems.append(Problem("role", "Choose what they do.", "role"))
        problems += _cost_problems(part.sees_cost, location, viewer)
        return None, [*problems, *_limit(part.limit)[0]]
    if part.role == Role.OWNER and not is_owner(viewer):
        problems.append(Problem("not_allowed", "Only an owner makes an owner.", "role"))
    more, limit = _limit_problems(part.limit, part.role, location, viewer)
    problems += more + _cost_problems(part.sees_cost, location, viewer)
    row = Membership(
        role=part.role, location=location, approve_up_to=limit, sees_cost=part.sees_cost
    )
    return row, problems


def _place(code: str, viewer: Viewer) -> tuple[Location | None, list[Problem]]:
    if not code:
        if manages(viewer, None):
            return None, []
        words = "Choose a location: you manage people of some places only."
        return None, [Problem("not_allowed", words, "place")]
    known = Location.objects.filter(retired_on=None)
    location = known.filter(code=code).first() if CODE_PATTERN.fullmatch(code) else None
    if location is None or not manages(viewer, location.pk):
        return None, [Problem("place", f"There is no location {shown(code)} of yours.", "place")]
    return location, []


def _limit_problems(
    typed: str, role: str, location: Location | None, viewer: Viewer
) -> tuple[list[Problem], Decimal | None]:
    """What is wrong with a limit as typed, and its value."""
    typed = typed.strip()
    if not approves(role):
        if typed:
            label = Role(role).label
            words = f"A {label} approves no orders: leave the limit blank."
            return [Problem("no_limit_here", words, "limit")], None
        return [], None
    problems, value = _limit(typed)
    if problems:
        return problems, None
    own = _own_limit(viewer, location)
    if own is not None and (value is None or value > own):
        words = f"You approve up to {own:,.2f} there yourself, so that is the most you can give."
        return [Problem("above_own_limit", words, "limit")], value
    return [], value


def _limit(typed: str) -> tuple[list[Problem], Decimal | None]:
    """As typed, whoever it is for; blank: none."""
    if not typed.strip():
        return [], None
    try:
        return [], number()(typed.strip())
    except Wrong as wrong:
        return [Problem("limit", f"Limit: {wrong}.", "limit")], None


def _own_limit(viewer: Viewer, location: Location | None) -> Decimal | None:
    """The widest limit at the place; None: no limit."""
    if location is not None:
        return viewer.approve_up_to(location.pk)
    limits = [
        grant.approve_up_to
        for grant in viewer.grants
        if grant.location_id is None and approves(grant.role)
    ]
    if None in limits:
        return None
    return max((limit for limit in limits if limit is not None), default=Decimal(0))


def _is_above(row: Membership, viewer: Viewer) -> bool:
    own, theirs = _own_limit(viewer, row.location), row.approve_up_to
    return approves(row.role) and own is not None and (theirs is None or theirs > own)


def _cost_problems(gives: bool, location: Location | None, viewer: Viewer) -> list[Problem]:
    if not gives:
        return []
    there = viewer.sees_cost(location.pk if location else None)
    words = "You do not see costs there yourself, so you cannot show them to others."
    return [] if there else [Problem("costs", words, "sees_cost")]


def _raises(row: Membership, limit: Decimal | None, sees_cost: bool) -> Iterator[Problem]:
    old = row.approve_up_to
    if approves(row.role) and old is not None and (limit is None or limit > old):
        words = "Nobody raises their own limit: ask another manager."
        yield Problem("own_limit", words, "limit")
    if sees_cost and not row.sees_cost:
        words = "Nobody shows themselves the costs: ask another manager."
        yield Problem("own_limit", words, "sees_cost")


def _part_for(part_id: int, viewer: Viewer) -> Membership:
    rows = Membership.objects.select_related("user", "location")
    row = rows.filter(pk=part_id).first()
    if row is None or not viewer.may(Act.PEOPLE):
        raise NotThere
    person_for(row.user.username, viewer)
    if not _may_manage(row, viewer):
        raise Refused(_not_yours(row.user))
    return row


def _may_manage(row: Membership, viewer: Viewer) -> bool:
    of_an_owner = row.role == Role.OWNER
    return manages(viewer, row.location_id) and (is_owner(viewer) or not of_an_owner)


def _not_yours(user: User) -> Problem:
    return Problem(
        "not_allowed",
        f"{_name(user)} has a part that you do not manage: a manager of every location, or an "
        "owner for an owner, changes it.",
    )


def _runs_everything(row: Membership) -> bool:
    return row.location_id is None and row.role in (Role.MANAGER, Role.OWNER)


def _others_run_everything(row: Membership) -> bool:
    able = Membership.objects.filter(location=None, role__in=[Role.MANAGER, Role.OWNER])
    if row.role == Role.OWNER:
        able = able.filter(role=Role.OWNER)  # without one nobody makes another
    return able.filter(user__is_active=True).exclude(pk=row.pk).exists()


def _person_problems(person: TypedPerson) -> Iterator[Problem]:
    username = person.username.strip()
    if not _USERNAME.fullmatch(username):
        words = (
            "Signs in as: up to 40 small letters, digits, '.', '-' and '_', a letter or "
            "digit first."
        )
        yield Problem("username", words, "username")
    elif User.objects.filter(username=username).exists():
        words = f"Somebody signs in as '{username}' already: choose another name."
        yield Problem("username_taken", words, "username")
    if not person.first_name.strip():
        yield Problem("first_name", "First name is missing.", "first_name")
    for field, label, kind in (
        ("first_name", "First name", text(60)),
        ("last_name", "Last name", text(60)),
        ("email", "E-mail", email),
    ):
        try:
            parsed(Column(field, kind), getattr(person, field))
        except Wrong as wrong:
            yield Problem(field, f"{label}: {wrong}.", field)


def _name(user: User) -> str:
    return user.get_full_name() or user.get_username()
