"""People: who may do what, where, up to how much. A part is named by its role and place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Figure, Flag, Words
from inventory.models import Membership
from inventory.problems import NotThere
from inventory.roles import Act
from inventory.selectors.item_facts import as_word
from inventory.selectors.people import person_for, visible
from inventory.services import people

Body = Mapping[str, Any]


class PartRow(serializers.Serializer[Any]):
    role = serializers.ChoiceField(Membership.Role.choices)
    location = serializers.CharField(
        source="location.code", default=None, allow_null=True, help_text="null: everywhere."
    )
    approve_up_to = Figure(read_only=True, allow_null=True, help_text="null: no limit.")
    sees_cost = serializers.BooleanField()


class PersonRow(serializers.Serializer[Any]):
    username = serializers.CharField()
    first_name = serializers.CharField()
    last_name = serializers.CharField()
    email = serializers.CharField()
    may_sign_in = serializers.BooleanField(source="is_active")
    parts = PartRow(many=True, source="memberships")


class People(base.Listing):
    """The people whom whoever asks has to do with."""

    operation, tag, key = "people", "people", "username"
    act = Act.PEOPLE
    row_class = PersonRow

    def seen(self, asked: Body) -> QuerySet[User]:
        return visible(self.viewer)


class PartName(serializers.Serializer[Any]):
    role = serializers.ChoiceField(Membership.Role.choices)
    location = Words(40, code=f"^{CODE}$", allow_null=True, help_text="null: everywhere.")


class PartBody(PartName):
    approve_up_to = Figure(
        digits=9, places=2, required=False, allow_null=True, help_text="null: no limit."
    )
    sees_cost = Flag(required=False)


class InviteBody(PartBody):
    username = Words(40, code=r"^[a-z0-9][a-z0-9._\-]{0,39}$")
    first_name = Words(60)
    last_name = Words(60, required=False)
    email = serializers.EmailField(required=False)


class _PeopleAct(base.Doing):
    """Answers the person as they stand then."""

    tag = "people"
    act = Act.PEOPLE
    answer_class = PersonRow

    def person(self, username: str) -> User:
        user = visible(self.viewer).filter(username=username).first()
        return user if user is not None else User.objects.get(username=username)

    def part_of(self, username: str, body: Body) -> Membership:
        user = person_for(username, self.viewer)
        part = user.memberships.filter(role=body["role"], location__code=body["location"]).first()
        if part is None:
            raise NotThere
        return part

    def field(self, name: str) -> str:
        return {"place": "location", "limit": "approve_up_to"}.get(name, name)


def _typed(body: Body) -> people.TypedPart:
    return people.TypedPart(
        body["role"],
        body["location"] or "",
        as_word(body.get("approve_up_to")),
        body.get("sees_cost", False),
    )


class Invite(_PeopleAct):
    """Somebody new. The one-time address by which they choose a password is made on the page
    of the person."""

    operation = "person_invite"
    status = 201
    body_class = InviteBody

    def done(self, body: Body) -> User:
        facts = {name: body.get(name, "") for name in ("first_name", "last_name", "email")}
        person = people.TypedPerson(username=body["username"], **facts)
        people.invite(person, _typed(body), viewer=self.viewer, by=self.user, at=self.at)
        return self.person(body["username"])


class GivePart(_PeopleAct):
    """One part more."""

    operation = "person_give_part"
    body_class = PartBody

    def done(self, body: Body, username: str) -> User:
        people.give_part(username, _typed(body), viewer=self.viewer, by=self.user, at=self.at)
        return self.person(username)


class ChangePart(_PeopleAct):
    """Another limit, or seeing costs or not."""

    operation = "person_change_part"
    body_class = PartBody

    def done(self, body: Body, username: str) -> User:
        wanted = _typed(body)
        people.change_part(
            self.part_of(username, body).pk,
            limit=wanted.limit,
            sees_cost=wanted.sees_cost,
            viewer=self.viewer,
            by=self.user,
            at=self.at,
        )
        return self.person(username)


class EndPart(_PeopleAct):
    """A part ends; who has none left cannot sign in any more."""

    operation = "person_end_part"
    body_class = PartName

    def done(self, body: Body, username: str) -> User:
        part = self.part_of(username, body)
        people.end_part(part.pk, viewer=self.viewer, by=self.user, at=self.at)
        return self.person(username)
