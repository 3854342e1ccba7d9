"""The last change of an item's pars at a place, from the log, and what stood before it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from inventory.models import Event
from inventory.selectors.business import Business
from purchasing import words
from purchasing.selectors.par_facts import day_said, typed_facts

SET_PARS = "set_pars"


def par_subject(place: str, item: str) -> str:
    return f"par:{place}:{item}"


def last_set(place: str, items: Iterable[str]) -> dict[str, Event]:
    """The newest change by item. One query."""
    subjects = {par_subject(place, item): item for item in items}
    rows = Event.objects.filter(subject__in=subjects, verb=SET_PARS).select_related("by")
    return {subjects[event.subject]: event for event in rows.order_by("at", "pk")}


def before(event: Event, facts: Mapping[str, str]) -> dict[str, str] | None:
    """The facts as they were before the event; None where they have changed since by another
    way (a workbook), so that nothing that somebody meant is lost, and where nothing was set."""
    changes: Mapping[str, list[str]] = event.changes
    if any(facts.get(name, "") != now for name, (_was, now) in changes.items()):
        return None
    was = {name: old for name, (old, _now) in changes.items()}
    found = {name: said for name, said in {**facts, **was}.items() if said}
    return found if found and all(typed_facts(said) for said in found.values()) else None


def last_change(
    event: Event, facts: Mapping[str, str], unit: str, house: Business, now: datetime
) -> str:
    """``set 11:40 by Bram; before it was every day 40 kg``; empty: there is nothing to put back.
    ``unit``: the item's, where none was typed."""
    was = before(event, facts)
    if was is None:
        return ""
    local, here = (house.clock.local(int(one.timestamp())) for one in (event.at, now))
    day = "" if local.date() == here.date() else f"{words.day_name(local.date())}, "
    who = (event.by.get_short_name() or event.by.username) if event.by else _("the program")
    said = {"at": f"{day}{local:%H:%M}", "who": who, "before": _as_said(was, unit)}
    return _("set %(at)s by %(who)s; before it was %(before)s") % said


def _as_said(facts: Mapping[str, str], unit: str) -> str:
    """``every day 40 kg, Tue 12 kg``."""
    typed = {name: typed_facts(said) for name, said in sorted(facts.items())}
    figures = [
        f"{day_said(name)} {words.exactly(Decimal(one['par']), one['unit'] or unit)}"
        for name, one in typed.items()
        if one and one["par"]
    ]
    return ", ".join(figures) or _("without a par")
