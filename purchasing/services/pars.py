"""Pars of one item at one location: every weekday in one act, checked as the workbook's are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from inventory.exchange.grammar import WEEKDAYS, Book, Wrong, number
from inventory.models import Item, Location
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.item_facts import as_word, changes_between, digest_of
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.turns import one_at_a_time
from purchasing.exchange.forms import checked_form
from purchasing.exchange.store import store_pars
from purchasing.models import Par
from purchasing.selectors.par_facts import par_facts
from purchasing.services.due import ask_for_fresh_drafts

if TYPE_CHECKING:
    from django.contrib.auth.models import User

# The rows of the form: every day, then Monday to Sunday.
DAYS = ("", *WEEKDAYS)
DAY_NAMES = (
    "Every day",
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)
BLANK = {"par": "", "unit": "", "basis": "", "service_level": ""}  # no row
_HUNDRED = Decimal(100)


@dataclass(frozen=True, slots=True)
class TypedPars:
    """As typed. ``rows``: one for each of ``DAYS`` with ``par``, ``unit``, ``basis`` and
    ``service_level`` in per cent; a row without any of the four is no row. ``supplied_by``:
    code of the location it comes from, blank: the location's own source."""

    rows: Sequence[Mapping[str, str]]
    supplied_by: str = ""


@one_act
def set_pars(
    place: str,
    item: str,
    typed: TypedPars,
    *,
    as_read: str,
    viewer: Viewer,
    by: User | None,
    at: datetime,
) -> dict[str, list[str]]:
    """What changed: name of the row, what it was, what it is."""
    one_at_a_time(f"par:{place}:{item}")  # of two who opened the same form one is told
    location, thing = _found(place, item, viewer)
    before = par_facts(location.pk, thing.pk)
    if digest_of(before) != as_read:
        raise Refused(
            Problem(
                "stale",
                f"Somebody changed the pars of {thing} at {location} since you opened this page. "
                "Your figures are kept below; press save again if they should stand.",
            )
        )
    kept = [(index, row) for index, row in enumerate(typed.rows) if any(row.values())]
    rows = [_as_sheet(row, index, location, thing, typed.supplied_by) for index, row in kept]
    book = _checked(rows, [index for index, _ in kept])
    days = [DAYS[index] for index, _ in kept]
    wanted = [None if not day else WEEKDAYS.index(day) for day in days]
    for stored in Par.objects.filter(location=location, item=thing):
        if stored.weekday not in wanted:
            stored.delete()
    store_pars(book)
    changes = changes_between(before, par_facts(location.pk, thing.pk))
    if changes:
        subject = f"par:{location.code}:{thing.code}"
        note("set_pars", subject, by=by, at=at, changes=changes, device=viewer.device)
        ask_for_fresh_drafts(at=at, why=f"pars of {thing.code} at {location.code} changed")
    return changes


def _found(place: str, item: str, viewer: Viewer) -> tuple[Location, Item]:
    location = Location.objects.filter(code=place).first()
    thing = Item.objects.filter(code=item).first()
    if location is None or thing is None or not viewer.may(Act.SEE, location.pk):
        raise NotThere
    if not viewer.may(Act.PARS, location.pk):
        raise Refused(
            Problem("not_allowed", f"Pars of {location} are set by its buyers and managers.")
        )
    return location, thing


def _as_sheet(
    row: Mapping[str, str], index: int, location: Location, item: Item, source: str
) -> dict[str, str]:
    return {
        "location": location.code,
        "item": item.code,
        "weekday": DAYS[index],
        "par": row["par"],
        "unit": row["unit"],
        "basis": row["basis"],
        "service_level": _share(row["service_level"]),
        "supplied_by": source,
    }


def _checked(rows: Sequence[Mapping[str, str]], places: Sequence[int]) -> Book:
    """``places``: of each row among the form's. A form says which day is meant, and per cent."""
    try:
        return checked_form({"pars": rows}, lambda sheet, row, column: f"{column}-{places[row]}")
    except Refused as refused:
        said = [_said_of_the_day(problem) for problem in refused.problems]
        # the source is typed once, however many rows it goes with
        raise Refused({(one.field, one.message): one for one in said}.values()) from refused


def _said_of_the_day(problem: Problem) -> Problem:
    column, _, index = problem.field.rpartition("-")
    if column == "supplied_by":
        return replace(problem, field=column)
    if not index.isdecimal():
        return problem
    message = problem.message
    if problem.code == "service_level":
        message = "Service level: type a share of the days in per cent, above 0 and below 100."
    return replace(problem, message=f"{DAY_NAMES[int(index)]}. {message}")


def _share(typed: str) -> str:
    """Per cent as the workbook's share; what is no figure is left for its checks."""
    try:
        share: Decimal = number(least=None)(typed.strip()) / _HUNDRED
    except Wrong:
        return typed
    return as_word(share)
