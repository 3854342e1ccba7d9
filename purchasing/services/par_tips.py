"""Adopting a tip: the pars of an item at a place become what would have done. A person's press;
never by itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from inventory.exchange.grammar import WEEKDAYS
from inventory.models import Item, Location
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.item_facts import as_word
from purchasing.models import Par
from purchasing.selectors.par_tips import DECIDING
from purchasing.selectors.tips_page import kept_tip
from purchasing.services.pars import BLANK, DAYS, TypedPars, set_pars

if TYPE_CHECKING:
    from django.contrib.auth.models import User

_HUNDRED = Decimal(100)


def adopt_tip(
    place: str,
    item: str,
    *,
    worked_out: int,
    as_read: str,
    viewer: Viewer,
    by: User | None,
    at: datetime,
) -> dict[str, list[str]]:
    """Set the par of each weekday with a tip; what decides and the service level stay. Answers
    what changed. ``worked_out``: number of the finding that was shown. Raises ``Refused`` if
    another has been worked out since, or somebody changed the pars."""
    location = Location.objects.filter(code=place).first()
    thing = Item.objects.filter(code=item).first()
    if location is None or thing is None or not viewer.may(Act.SEE, location.pk):
        raise NotThere
    tip = kept_tip(place, item)
    if tip is None or tip.worked_out != worked_out:
        message = (
            f"The tips have been worked out again since you opened this page. Look at the tip of "
            f"{thing} at {location} as it is now, and press again if it should stand."
        )
        raise Refused(Problem("stale", message))
    rows = _typed(Par.objects.filter(location=location, item=thing), tip.pars, tip.unit)
    source = _source(location, thing)
    typed = TypedPars([rows.get(day, BLANK) for day in DAYS], source)
    return set_pars(place, item, typed, as_read=as_read, viewer=viewer, by=by, at=at)


def _typed(
    stored: Iterable[Par], pars: Mapping[int, Decimal], unit: str
) -> dict[str, dict[str, str]]:
    """Rows of the form of ``set_pars`` by its days: those there are, with the tips in them."""
    by_day = {row.weekday: row for row in stored}
    rows = {_day(weekday): _as_typed(row) for weekday, row in by_day.items()}
    for weekday, par in pars.items():
        row = by_day.get(weekday) or by_day.get(None)
        if row is not None and row.basis in DECIDING:
            tipped = {"par": as_word(par), "unit": unit}
            rows[_day(weekday)] = {**_as_typed(row), **tipped}
    return rows


def _day(weekday: int | None) -> str:
    return "" if weekday is None else WEEKDAYS[weekday]


def _as_typed(row: Par) -> dict[str, str]:
    level = row.service_level
    return {
        "par": as_word(row.par),
        "unit": row.unit,
        "basis": row.basis,
        "service_level": as_word(None if level is None else level * _HUNDRED),
    }


def _source(location: Location, item: Item) -> str:
    rows = Par.objects.filter(location=location, item=item, supplied_by__isnull=False)
    return rows.values_list("supplied_by__code", flat=True).first() or ""
