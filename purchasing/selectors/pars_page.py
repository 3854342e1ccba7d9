"""The pars of one location as one table, and what the form of one item is filled with."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from inventory.models import Item, Location, OnHand
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from inventory.selectors.item_facts import as_word, digest_of
from inventory.selectors.seen import narrowed, only
from purchasing import words
from purchasing.models import Offer, Par
from purchasing.selectors.par_facts import par_facts
from purchasing.selectors.par_words import (
    PER_CENT,
    basis_words,
    day_names,
    days_said,
    distinct,
    level_words,
    short_days,
)

WEEK = 7
MIXED = "mixed"


@dataclass(frozen=True, slots=True)
class ParCell:
    """One weekday. ``is_own``: set for that day, not for every day."""

    figure: str
    is_own: bool


@dataclass(frozen=True, slots=True)
class ParRow:
    """``said``: all days in words, ``every day 12 kg, Fri 20 kg``. ``tip``: what a better par
    would be; empty: none."""

    code: str
    name: str
    unit: str
    cells: tuple[ParCell, ...]
    said: str
    basis: str
    level: str
    source: str
    tip: str


@dataclass(frozen=True, slots=True)
class ParGroup:
    """Items that are ordered by the same. ``is_folded``: no figure stands in it."""

    name: str
    head: str
    rows: tuple[ParRow, ...]

    @property
    def is_folded(self) -> bool:
        return not any(cell.figure for row in self.rows for cell in row.cells)

    @property
    def is_mixed(self) -> bool:
        return self.name == MIXED


@dataclass(frozen=True, slots=True)
class ParsPage:
    code: str
    name: str
    made_at: str
    days: tuple[str, ...]
    groups: tuple[ParGroup, ...]
    without: tuple[tuple[str, str], ...]  # code and name of items that only the forecast decides
    usual: str
    may_set: bool
    has_tips: bool

    @property
    def rows(self) -> list[ParRow]:
        return [row for group in self.groups for row in group.rows]

    @property
    def has_sources(self) -> bool:
        return any(row.source for row in self.rows)


@dataclass(frozen=True, slots=True)
class ParForm:
    """``rows``: name of the day and par, unit, basis, service level as typed before."""

    place: str
    place_name: str
    item: str
    item_name: str
    unit: str
    units: tuple[str, ...]
    rows: tuple[tuple[str, Mapping[str, str]], ...]
    source: str
    usual_source: str
    sources: tuple[tuple[str, str], ...]
    usual: str
    as_read: str
    may_set: bool


@dataclass(frozen=True, slots=True)
class ParPlace:
    code: str
    name: str
    count: int


def par_places(viewer: Viewer) -> tuple[ParPlace, ...]:
    """Locations with how many items have a par there. Two queries."""
    places = narrowed(Location.objects.filter(retired_on=None), viewer, "pk").order_by("name")
    pairs = set(Par.objects.order_by().values_list("location_id", "item_id"))
    counts: dict[int, int] = defaultdict(int)
    for place, _item in pairs:
        counts[place] += 1
    return tuple(ParPlace(row.code, row.name, counts[row.pk]) for row in places)


def pars_page(
    code: str, viewer: Viewer, now: datetime, tips: Mapping[str, str] | None = None
) -> ParsPage:
    """Six queries. ``tips``: by item code."""
    place = only(narrowed(Location.objects.all(), viewer, "pk"), code=code)
    house = business()
    rows = Par.objects.filter(location=place).select_related("item", "supplied_by")
    by_item: dict[str, list[Par]] = defaultdict(list)
    for row in rows.order_by("item__name", "item__code"):
        by_item[row.item.code].append(row)
    told = tips or {}
    local = house.clock.local(int(now.timestamp()))
    return ParsPage(
        code=place.code,
        name=place.name,
        made_at=f"{words.day_name(local.date())}, {local:%H:%M}",
        days=short_days(),
        groups=tuple(_groups(by_item, told)),
        without=_without(place, set(by_item)),
        usual=_usual(house),
        may_set=viewer.may(Act.PARS, place.pk),
        has_tips=any(told.get(item) for item in by_item),
    )


def _groups(by_item: Mapping[str, Sequence[Par]], told: Mapping[str, str]) -> Iterator[ParGroup]:
    """By what decides on every day of an item; last those where it depends on the day."""
    heads = {
        Par.Basis.FIXED: _("The par decides"),
        Par.Basis.GREATER: _("The greater of par and forecast decides"),
        Par.Basis.COST: _("The least cost decides"),
        Par.Basis.FORECAST: _("The forecast decides"),
        "": _("It depends on the day"),
    }
    found: dict[str, list[ParRow]] = defaultdict(list)
    for item, pars in by_item.items():
        bases = {row.basis for row in pars}
        found[bases.pop() if len(bases) == 1 else ""].append(_row(pars, told.get(item, "")))
    for basis, head in heads.items():
        if found[basis]:
            yield ParGroup(str(basis) or MIXED, head, tuple(found[basis]))


def _row(rows: Sequence[Par], tip: str) -> ParRow:
    item = rows[0].item
    by_day = {row.weekday: row for row in rows}
    units = distinct(row.unit or item.unit for row in rows)
    days = [by_day.get(day) or by_day.get(None) for day in range(WEEK)]
    return ParRow(
        code=item.code,
        name=item.name,
        unit=units[0] if len(units) == 1 else "",
        cells=tuple(_cell(row, show_unit=len(units) > 1) for row in days),
        said=days_said(rows),
        basis="; ".join(distinct(basis_words(row.basis) for row in days if row)),
        level="; ".join(distinct(level_words(row) for row in days if row)),
        source=", ".join(distinct(row.supplied_by.name if row.supplied_by else "" for row in rows)),
        tip=tip,
    )


def _cell(row: Par | None, *, show_unit: bool) -> ParCell:
    if row is None or row.par is None:
        return ParCell("", is_own=row is not None and row.weekday is not None)
    unit = row.unit or row.item.unit
    text = words.exactly(row.par, unit) if show_unit else words.exactly(row.par, "each")
    return ParCell(text, is_own=row.weekday is not None)


def _without(place: Location, have: set[str]) -> tuple[tuple[str, str], ...]:
    """Bought items, and what lies there, without a par at this place."""
    bought = Offer.objects.filter(retired_on=None).values("item")
    there = OnHand.objects.filter(location=place, qty__gt=0).values("item")
    rows = Item.objects.filter(retired_on=None).exclude(kind=Item.Kind.MENU)
    named = (rows.filter(pk__in=bought) | rows.filter(pk__in=there)).distinct()
    codes = named.order_by("name").values_list("code", "name")
    return tuple((code, name) for code, name in codes if code not in have)


def _usual(house: Business) -> str:
    return f"{as_word(house.default_service_level * PER_CENT)} %"


def par_form(code: str, item_code: str, viewer: Viewer) -> ParForm:
    place = only(narrowed(Location.objects.select_related("supplied_by"), viewer, "pk"), code=code)
    item = only(Item.objects.all(), code=item_code)
    rows = Par.objects.filter(location=place, item=item).select_related("supplied_by")
    by_day = {row.weekday: row for row in rows}
    sources = [row.supplied_by.code for row in by_day.values() if row.supplied_by]
    days = (None, *range(WEEK))
    others = Location.objects.filter(retired_on=None).exclude(pk=place.pk).order_by("name")
    return ParForm(
        place=place.code,
        place_name=place.name,
        item=item.code,
        item_name=item.name,
        unit=item.unit,
        units=tuple(item.units.order_by("word").values_list("word", flat=True)),
        rows=tuple(
            (name, _typed(by_day.get(day))) for name, day in zip(day_names(), days, strict=True)
        ),
        source=sources[0] if sources else "",
        usual_source=place.supplied_by.name if place.supplied_by else _("suppliers"),
        sources=tuple(others.values_list("code", "name")),
        usual=_usual(business()),
        as_read=digest_of(par_facts(place.pk, item.pk)),
        may_set=viewer.may(Act.PARS, place.pk),
    )


def _typed(row: Par | None) -> dict[str, str]:
    if row is None:
        return {"par": "", "unit": "", "basis": "", "service_level": ""}
    level = row.service_level
    return {
        "par": as_word(row.par),
        "unit": row.unit,
        "basis": row.basis,
        "service_level": as_word(None if level is None else level * PER_CENT),
    }
