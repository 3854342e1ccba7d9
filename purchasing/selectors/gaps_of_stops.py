"""Gaps of the stops ahead: covers and menus, one sentence a truck."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import timedelta

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from inventory.models import MenuEntry, Stop
from inventory.selectors.seen import narrowed
from purchasing import words
from purchasing.selectors.gaps import Found, Gap, Kitchen, workbook_fix

# Stops so far ahead need their covers and their menu.
STOP_DAYS = 14


def uncounted_stops(kitchen: Kitchen) -> Found:
    rows = _stops_ahead(kitchen).filter(expected_covers=None, guaranteed_covers=None)
    for told in _by_truck(rows):
        one = _("%(truck)s: no covers are typed for %(first)s.")
        many = _("%(truck)s: no covers are typed for %(count)d stops, the first %(first)s.")
        yield Gap((one if told["count"] == 1 else many) % told, workbook_fix(kitchen))


def stops_without_menu(kitchen: Kitchen) -> Found:
    menus: dict[int, list[MenuEntry]] = defaultdict(list)
    for entry in MenuEntry.objects.filter(item__retired_on=None):
        menus[entry.location_id].append(entry)
    bare = [
        stop
        for stop in _stops_ahead(kitchen)
        if not any(_is_on(entry, stop) for entry in menus[stop.location_id])
    ]
    for told in _by_truck(bare):
        one = _("%(truck)s: nothing is on the menu of %(first)s.")
        many = _("%(truck)s: nothing is on the menu of %(count)d stops, the first %(first)s.")
        yield Gap((one if told["count"] == 1 else many) % told, workbook_fix(kitchen))


def _stops_ahead(kitchen: Kitchen) -> QuerySet[Stop]:
    last = kitchen.today + timedelta(days=STOP_DAYS)
    rows = Stop.objects.filter(date__range=(kitchen.today, last), cancelled=False)
    return narrowed(rows, kitchen.viewer).select_related("location").order_by("date", "opens")


def _by_truck(stops: Iterable[Stop]) -> list[dict[str, object]]:
    """Truck, how many, and the first of them in words."""
    trucks: dict[int, list[Stop]] = defaultdict(list)
    for stop in stops:
        trucks[stop.location_id].append(stop)
    return [
        {"truck": rows[0].location.name, "count": len(rows), "first": _words(rows[0])}
        for rows in trucks.values()
    ]


def _words(stop: Stop) -> str:
    day = words.day_name(stop.date)
    return f"{day}, {stop.site}" if stop.site else day


def _is_on(entry: MenuEntry, stop: Stop) -> bool:
    started = entry.first is None or entry.first <= stop.date
    ended = entry.last is not None and entry.last < stop.date
    return started and not ended and entry.site in ("", stop.site)
