"""Pars by place, item and weekday. They know no moment of change; the events do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.api import base
from inventory.api.asked import AtPlace
from inventory.api.codes import CODE
from inventory.api.fields import Figure, Whole, Words
from inventory.problems import Problem, Refused
from inventory.roles import Viewer
from inventory.selectors.item_facts import as_word, digest_of
from inventory.selectors.seen import at_place, items, locations, only
from purchasing.api.rows import ParRow
from purchasing.models import Par
from purchasing.selectors import seen
from purchasing.selectors.par_facts import par_facts
from purchasing.services.pars import DAYS, TypedPars, set_pars


class Pars(base.Listing):
    """How much a place wants of an item. Rows know no moment of change; the events do."""

    operation, tag = "pars", "pars"
    row_class = ParRow
    asked_class = AtPlace

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[Par]:
        return at_place(seen.pars(self.viewer), self.viewer, asked.get("location"))


class PairRow(serializers.Serializer[Any]):
    """Every weekday of one item at one place."""

    location = serializers.CharField()
    item = serializers.CharField()
    version = serializers.CharField(help_text="Also the ETag.")
    rows = ParRow(many=True)


def pair(viewer: Viewer, place: str, item: str) -> dict[str, Any]:
    location = only(locations(viewer), code=place)
    thing = only(items(viewer), code=item)
    rows = seen.pars(viewer).filter(location=location, item=thing).order_by("weekday", "pk")
    version = digest_of(par_facts(location.pk, thing.pk))
    return {"location": place, "item": item, "version": version, "rows": rows}


class PairOfPars(base.Seen):
    """The pars of one item at one place, with the version that a change names."""

    operation, tag = "pars_of_pair", "pars"
    row_class = PairRow
    has_version = True

    def seen(self, code: str, item: str) -> dict[str, Any]:
        return pair(self.viewer, code, item)


class DayBody(serializers.Serializer[Any]):
    weekday = Whole(most=6, allow_null=True, help_text="Monday = 0; null: every day.")
    par = Figure(digits=6, places=6, required=False)
    unit = Words(20, required=False)
    basis = serializers.ChoiceField(Par.Basis.choices)
    service_level = Figure(
        above_zero=True, digits=1, places=6, required=False, help_text="Above 0 and below 1."
    )


class SetParsBody(serializers.Serializer[Any]):
    rows = DayBody(many=True)
    supplied_by = Words(40, code=f"^{CODE}$", required=False)


class SetPars(base.Doing):
    """Every weekday in one act; a weekday that is not named has no par of its own then."""

    operation, tag = "set_pars", "pars"
    needs_version = has_version = True
    body_class, answer_class = SetParsBody, PairRow

    def done(self, body: Mapping[str, Any], code: str, item: str) -> dict[str, Any]:
        self._named = [0 if row["weekday"] is None else row["weekday"] + 1 for row in body["rows"]]
        if len(self._named) != len(set(self._named)):
            raise Refused(Problem("weekday_twice", "Name each weekday once.", "rows"))
        by_day = dict(zip(self._named, body["rows"], strict=True))
        rows = [_as_typed(by_day.get(index)) for index in range(len(DAYS))]
        set_pars(
            code,
            item,
            TypedPars(rows, body.get("supplied_by", "")),
            as_read=self.version,
            viewer=self.viewer,
            by=self.user,
            at=self.at,
        )
        return pair(self.viewer, code, item)

    def field(self, name: str) -> str:
        column, _dash, day = name.rpartition("-")
        if not day.isdecimal() or int(day) not in self._named:
            return name
        return f"rows.{self._named.index(int(day))}.{column}"


def _as_typed(row: Mapping[str, Any] | None) -> dict[str, str]:
    """The service level as the form has it, in per cent."""
    said = row or {}
    level = said.get("service_level")
    return {
        "par": as_word(said.get("par")),
        "unit": said.get("unit", ""),
        "basis": said.get("basis", ""),
        "service_level": as_word(None if level is None else level * 100),
    }
