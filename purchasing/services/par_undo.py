"""Putting pars back as they were before their last change: a person's press, as safe as setting."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from inventory.exchange.grammar import WEEKDAYS
from inventory.models import Item, Location
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from purchasing.selectors.par_facts import par_facts, typed_facts, weekday_of
from purchasing.selectors.par_undo import before, last_set
from purchasing.services.pars import BLANK, DAYS, TypedPars, set_pars

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def put_back(
    place: str,
    item: str,
    *,
    as_read: str,
    viewer: Viewer,
    by: User | None,
    at: datetime,
) -> dict[str, list[str]]:
    """Answers what changed. Raises ``Refused`` where the pars are no longer as the last change
    in the log left them, and where somebody changed them since the page was opened."""
    location = Location.objects.filter(code=place).first()
    thing = Item.objects.filter(code=item).first()
    if location is None or thing is None or not viewer.may(Act.SEE, location.pk):
        raise NotThere
    event = last_set(place, [item]).get(item)
    was = before(event, par_facts(location.pk, thing.pk)) if event else None
    if was is None:
        message = (
            f"The pars of {thing} at {location} are not as their last change in the log left "
            f"them, so nothing is put back. Open them and set what they should be."
        )
        raise Refused(Problem("stale", message))
    return set_pars(place, item, _typed(was), as_read=as_read, viewer=viewer, by=by, at=at)


def _typed(facts: Mapping[str, str]) -> TypedPars:
    rows = {_day(name): typed_facts(said) or BLANK for name, said in facts.items()}
    source = next((row["supplied_by"] for row in rows.values() if row.get("supplied_by")), "")
    return TypedPars([rows.get(day, BLANK) for day in DAYS], source)


def _day(name: str) -> str:
    weekday = weekday_of(name)
    return "" if weekday is None else WEEKDAYS[weekday]
