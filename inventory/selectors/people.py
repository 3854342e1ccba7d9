"""Who may do what, where, up to how much: the page of people, and the words for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import User
from django.db.models import F, Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from inventory.models import ApiToken, Device, Location, Membership, PersonalNumber
from inventory.problems import NotThere
from inventory.roles import ACTS_OF, Act, Viewer
from inventory.selectors.business import Business, business
from inventory.selectors.item_facts import as_word


@dataclass(frozen=True, slots=True)
class Part:
    """One membership in words. ``may_change``: by whoever looks."""

    id: int
    role: str
    where: str
    limit: str
    approves: bool
    approve_up_to: Decimal | None
    sees_cost: bool
    may_change: bool

    @property
    def id_text(self) -> str:
        return str(self.id)

    @property
    def limit_text(self) -> str:
        """As somebody types it."""
        return as_word(self.approve_up_to)


@dataclass(frozen=True, slots=True)
class Person:
    username: str
    name: str
    email: str
    parts: tuple[Part, ...]
    is_here: bool  # may sign in
    has_signed_in: bool
    has_number: bool
    is_me: bool
    may_change: bool  # all that is this person's, not only a part


@dataclass(frozen=True, slots=True)
class SharedDevice:
    name: str
    where: str
    retired: str


@dataclass(frozen=True, slots=True)
class Token:
    """By which a program asks in ``person``'s name. ``used`` and ``ended``: days, or empty."""

    id: int
    name: str
    person: str
    made: str
    used: str
    ended: str


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """``tokens`` None: they are not for this person."""

    currency: str
    people: tuple[Person, ...]
    gone: tuple[Person, ...]
    devices: tuple[SharedDevice, ...]
    places: tuple[tuple[str, str], ...]  # code and name, of those the viewer may give
    roles: tuple[tuple[str, str], ...]
    gives_everywhere: bool
    tokens: tuple[Token, ...] | None = None


def manages(viewer: Viewer, location_id: int | None) -> bool:
    """``location_id`` None: every location."""
    if location_id is None:
        return viewer.may_everywhere(Act.PEOPLE)
    return viewer.may(Act.PEOPLE, location_id)


def people_page(viewer: Viewer) -> PeoplePage:
    """Five queries, and one for owners."""
    house = business()
    people = [_person(user, viewer) for user in visible(viewer)]
    return PeoplePage(
        currency=house.currency,
        people=tuple(person for person in people if person.is_here),
        gone=tuple(person for person in people if not person.is_here),
        devices=tuple(_device(row) for row in _devices(viewer)),
        places=tuple(_places(viewer)),
        roles=tuple(roles_to_give(viewer)),
        gives_everywhere=manages(viewer, None),
        tokens=tuple(_tokens(house)) if viewer.may_everywhere(Act.TOKENS) else None,
    )


def person_for(username: str, viewer: Viewer) -> User:
    """Raises ``NotThere`` for whom the viewer has nothing to do with."""
    user = visible(viewer).filter(username=username).first()
    if user is None:
        raise NotThere
    return user


def person_page(username: str, viewer: Viewer) -> tuple[Person, PeoplePage]:
    return _person(person_for(username, viewer), viewer), people_page(viewer)


def roles_to_give(viewer: Viewer) -> Iterable[tuple[str, str]]:
    """Only an owner makes an owner."""
    for role in Membership.Role:
        if role != Membership.Role.OWNER or is_owner(viewer):
            yield role.value, _(role.label)


def is_owner(viewer: Viewer) -> bool:
    return any(grant.role == "owner" and grant.location_id is None for grant in viewer.grants)


def approves(role: str) -> bool:
    return Act.APPROVE in ACTS_OF[role]


def membership_words(row: Membership) -> str:
    """``buyer at every location, approves up to 900.00, sees costs``."""
    where = str(row.location) if row.location else "every location"
    limit = ""
    if approves(row.role):
        most = row.approve_up_to
        limit = ", approves any value" if most is None else f", approves up to {most:,.2f}"
    costs = ", sees costs" if row.sees_cost else ""
    return f"{row.get_role_display()} at {where}{limit}{costs}"


def visible(viewer: Viewer) -> QuerySet[User]:
    """People with a part where the viewer manages people, and who have one everywhere; those
    who have none any more are a matter of the whole business."""
    places = viewer.places(Act.PEOPLE)
    rows = Membership.objects.select_related("location").order_by("location__name", "role", "pk")
    users = User.objects.prefetch_related(Prefetch("memberships", rows)).select_related(
        "personal_number"
    )
    if places is not None:
        there = Q(memberships__location__in=places) | Q(memberships__location=None)
        users = users.filter(there, memberships__isnull=False).distinct()
    return users.order_by("first_name", "username")


def _person(user: User, viewer: Viewer) -> Person:
    parts = tuple(_part(row, viewer) for row in user.memberships.all())
    is_me = user.pk == viewer.user_id
    return Person(
        username=user.username,
        name=user.get_full_name() or user.username,
        email=user.email,
        parts=parts,
        is_here=user.is_active and bool(parts),
        has_signed_in=user.last_login is not None,
        has_number=_has_number(user),
        is_me=is_me,
        may_change=is_me or all(part.may_change for part in parts),
    )


def _has_number(user: User) -> bool:
    try:
        return bool(user.personal_number)
    except PersonalNumber.DoesNotExist:
        return False


def _part(row: Membership, viewer: Viewer) -> Part:
    owners = row.role != Membership.Role.OWNER or is_owner(viewer)
    return Part(
        id=row.pk,
        role=_(row.get_role_display()),
        where=str(row.location) if row.location else _("every location"),
        limit=_limit(row),
        approves=approves(row.role),
        approve_up_to=row.approve_up_to,
        sees_cost=row.sees_cost,
        may_change=owners and manages(viewer, row.location_id),
    )


def _limit(row: Membership) -> str:
    if not approves(row.role):
        return _("approves nothing")
    if row.approve_up_to is None:
        return _("approves any value")
    return _("approves up to %(value)s") % {"value": f"{row.approve_up_to:,.2f}"}


def _devices(viewer: Viewer) -> QuerySet[Device]:
    rows = Device.objects.select_related("location").order_by("retired_on", "name")
    places = viewer.places(Act.PEOPLE)
    return rows if places is None else rows.filter(location__in=places)


def _device(row: Device) -> SharedDevice:
    where = str(row.location) if row.location else _("every location")
    return SharedDevice(row.name, where, row.retired_on.isoformat() if row.retired_on else "")


def _places(viewer: Viewer) -> Iterable[tuple[str, str]]:
    rows = Location.objects.filter(retired_on=None).order_by("name")
    places = viewer.places(Act.PEOPLE)
    if places is not None:
        rows = rows.filter(pk__in=places)
    return ((row.code, row.name) for row in rows)


def _tokens(house: Business) -> Iterable[Token]:
    """Those that open something first, then those that have ended, the newest first."""
    rows = ApiToken.objects.select_related("user")
    for row in rows.order_by(F("retired_at").desc(nulls_first=True), "-pk"):
        yield Token(
            id=row.pk,
            name=row.name,
            person=row.user.get_full_name() or row.user.username,
            made=house.day_of(row.created_at).isoformat(),
            used=row.last_used_on.isoformat() if row.last_used_on else "",
            ended=house.day_of(row.retired_at).isoformat() if row.retired_at else "",
        )
