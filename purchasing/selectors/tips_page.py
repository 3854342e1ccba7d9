"""The page of one place's tips for pars: the tip by weekday beside the par as it is set, and
what each would have done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.models import Event, Item, Location
from inventory.roles import Act, Viewer
from inventory.selectors.business import Business, business
from inventory.selectors.item_facts import digest_of
from inventory.selectors.seen import narrowed, only
from purchasing import words
from purchasing.models import Finding, Par
from purchasing.selectors.par_facts import facts_of
from purchasing.selectors.par_tips import figures_of
from purchasing.selectors.par_undo import last_change, last_set
from purchasing.selectors.par_words import short_days
from purchasing.selectors.work_words import finding_waits, newest


@dataclass(frozen=True, slots=True)
class KeptTip:
    """``pars`` by weekday in ``unit``; ``worked_out``: number of the finding."""

    worked_out: int
    unit: str
    pars: Mapping[int, Decimal]


@dataclass(frozen=True, slots=True)
class DayTip:
    """One weekday of deliveries: the figure set and the one tipped."""

    day: str
    as_set: str
    tip: str
    would_have: str


class Gain(StrEnum):
    """What a tip is good for; in this order on the page."""

    FEWER_OUT = "fewer_out"
    LESS_WASTE = "less_waste"
    MORE_OUT = "more_out"
    ALIKE = "alike"
    ADOPTED = "adopted"


@dataclass(frozen=True, slots=True)
class TipRow:
    """``did`` and ``would_have``: all weekdays together, for the pars as set and as tipped.
    ``was``: of pars that are those of the tip already, who set them and what stood before, if
    that can be put back. ``saved``: money less thrown away, which orders a group."""

    code: str
    name: str
    unit: str
    days: tuple[DayTip, ...]
    did: str
    would_have: str
    gain: Gain
    was: str
    as_read: str
    saved: Decimal

    @property
    def adopted(self) -> bool:
        return self.gain == Gain.ADOPTED


@dataclass(frozen=True, slots=True)
class TipGroup:
    """``is_open``: to be looked at; the others stand folded under their head and what is
    ``told`` of all of them."""

    gain: Gain
    head: str
    told: str
    rows: tuple[TipRow, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class TipsPage:
    """``why_not``: there is no answer, and this is why; ``waiting``: asked for and not
    done yet, in words."""

    code: str
    name: str
    worked_out: int
    made_at: str
    days: str
    groups: tuple[TipGroup, ...]
    without: int
    why_not: str
    waiting: str
    may_set: bool


def kept_tip(place: str, item: str) -> KeptTip | None:
    """The tip of one pair as it was last worked out; None: there is none."""
    done, _waiting = newest(Finding.Kind.PAR_TIPS)
    for row in _rows_of(done):
        if (row["place"], row["item"]) == (place, item) and done is not None and row["tips"]:
            return KeptTip(done.pk, row["unit"], figures_of(row))
    return None


def _rows_of(done: Finding | None) -> Sequence[Mapping[str, Any]]:
    return (done.answer or {}).get("rows", ()) if done else ()


def tips_of(code: str) -> dict[str, str]:
    """``Tue 12 kg, Fri 16 kg`` by item: for the table of a place's pars. One query."""
    done, _waiting = newest(Finding.Kind.PAR_TIPS)
    return {
        row["item"]: ", ".join(_tip_words(tip, row["unit"]) for tip in row["tips"])
        for row in _rows_of(done)
        if row["place"] == code and row["tips"]
    }


def _tip_words(tip: Mapping[str, Any], unit: str) -> str:
    return f"{short_days()[int(tip['weekday'])]} {words.exactly(Decimal(tip['par']), unit)}"


def tips_page(code: str, viewer: Viewer, now: datetime) -> TipsPage:
    """Seven queries."""
    place = only(narrowed(Location.objects.all(), viewer, "pk"), code=code)
    done, waiting = newest(Finding.Kind.PAR_TIPS)
    mine = [row for row in _rows_of(done) if row["place"] == code]
    codes = [row["item"] for row in mine]
    names = dict(Item.objects.filter(code__in=codes).values_list("code", "name"))
    stored = _stored(place, codes)
    currency = business().currency if viewer.sees_cost(place.pk) else ""
    told = [row for row in mine if row["tips"] and row["item"] in stored]
    undo = _Undo(last_set(code, codes) if viewer.may(Act.PARS, place.pk) else {}, business(), now)
    rows = [_row(row, names[row["item"]], stored[row["item"]], currency, undo) for row in told]
    return TipsPage(
        code=place.code,
        name=place.name,
        worked_out=done.pk if done else 0,
        made_at=_moment(done, now),
        days=_days(done),
        groups=tuple(_grouped(rows)),
        without=len(mine) - len(told),
        why_not=done.problem if done else "",
        waiting=finding_waits(waiting, now),
        may_set=viewer.may(Act.PARS, place.pk),
    )


def _stored(place: Location, codes: Sequence[str]) -> dict[str, list[Par]]:
    rows = Par.objects.filter(location=place, item__code__in=codes)
    found: dict[str, list[Par]] = defaultdict(list)
    for row in rows.select_related("item", "supplied_by").order_by("pk"):
        found[row.item.code].append(row)
    return found


def _grouped(rows: Sequence[TipRow]) -> Iterator[TipGroup]:
    heads = {
        Gain.FEWER_OUT: _("Would run out less often"),
        Gain.LESS_WASTE: _("Would throw away less"),
        Gain.MORE_OUT: _("Would keep less, and run out as often as the service level allows"),
        Gain.ALIKE: _("Would do as well with another stock on the shelf"),
        Gain.ADOPTED: _("Set as tipped"),
    }
    told = {
        Gain.ALIKE: _("They run out as often and throw away no less; what lies there is another."),
        Gain.ADOPTED: _("Nothing is to be done; what stood before can be put back."),
    }
    for gain, head in heads.items():
        mine = [row for row in rows if row.gain == gain]
        if mine:
            in_order = sorted(mine, key=lambda row: (-row.saved, row.name))
            is_open = gain not in (Gain.ALIKE, Gain.ADOPTED)
            yield TipGroup(gain, head, told.get(gain, ""), tuple(in_order), is_open)


@dataclass(frozen=True, slots=True)
class _Undo:
    """``events``: the last change by item."""

    events: Mapping[str, Event]
    house: Business
    now: datetime

    def told(self, item: Item, facts: Mapping[str, str]) -> str:
        event = self.events.get(item.code)
        return last_change(event, facts, item.unit, self.house, self.now) if event else ""


def _row(
    row: Mapping[str, Any], name: str, stored: Sequence[Par], currency: str, undo: _Undo
) -> TipRow:
    tips, unit = row["tips"], row["unit"]
    by_day = {one.weekday: one for one in stored}
    in_force = {int(tip["weekday"]): _in_force(by_day, int(tip["weekday"])) for tip in tips}
    figures = figures_of(row)
    adopted = all(_is_set(in_force[day], par, unit) for day, par in figures.items())
    facts = facts_of(stored)
    return TipRow(
        code=row["item"],
        name=name,
        unit=unit,
        days=tuple(_day(tip, in_force[int(tip["weekday"])], unit, currency) for tip in tips),
        did=_did(row["as_set"], unit, currency),
        would_have=_did(tips, unit, currency),
        gain=Gain.ADOPTED if adopted else _gain(row["as_set"], tips),
        was=undo.told(stored[0].item, facts) if adopted else "",
        as_read=digest_of(facts),
        saved=_sum(row["as_set"], "lost") - _sum(tips, "lost"),
    )


def _gain(as_set: Sequence[Mapping[str, Any]], tips: Sequence[Mapping[str, Any]]) -> Gain:
    out = _sum(tips, "ran_out") - _sum(as_set, "ran_out")
    if out < 0 or not as_set:
        return Gain.FEWER_OUT
    if _sum(as_set, "thrown_away") - _sum(tips, "thrown_away") > words.NOTHING:
        return Gain.LESS_WASTE
    return Gain.MORE_OUT if out > 0 else Gain.ALIKE


def _sum(rows: Sequence[Mapping[str, Any]], name: str) -> Decimal:
    return sum((Decimal(str(row[name])) for row in rows), Decimal(0))


def _in_force(by_day: Mapping[int | None, Par], weekday: int) -> Par | None:
    return by_day.get(weekday) or by_day.get(None)


def _is_set(row: Par | None, par: Decimal, unit: str) -> bool:
    return row is not None and row.par == par and (row.unit or row.item.unit) == unit


def _day(tip: Mapping[str, Any], row: Par | None, unit: str, currency: str) -> DayTip:
    figure = "" if row is None or row.par is None else words.exactly(
        row.par, row.unit or row.item.unit
    )  # fmt: skip
    return DayTip(
        day=short_days()[int(tip["weekday"])],
        as_set=figure or _("none"),
        tip=words.exactly(Decimal(tip["par"]), unit),
        would_have=_did([tip], unit, currency),
    )


def _did(rows: Sequence[Mapping[str, Any]], unit: str, currency: str) -> str:
    """``ran out 2 times in 16, thrown away 3 kg = 12.40 USD``; money where it may be seen."""
    if not rows:
        return ""
    ran_out = _ran_out(int(_sum(rows, "ran_out")), int(_sum(rows, "windows")))
    gone = _thrown_away(_sum(rows, "thrown_away"), _sum(rows, "lost"), unit, currency)
    return f"{ran_out}, {gone}"


def _ran_out(ran_out: int, windows: int) -> str:
    if not ran_out:
        return _("never ran out in %(windows)s deliveries") % {"windows": windows}
    said = ngettext(
        "ran out once in %(windows)s deliveries",
        "ran out %(times)s times in %(windows)s deliveries",
        ran_out,
    )
    return said % {"times": ran_out, "windows": windows}


def _thrown_away(gone: Decimal, lost: Decimal, unit: str, currency: str) -> str:
    if gone < words.NOTHING:
        return _("nothing thrown away")
    amount = words.quantity(gone, unit)
    if not currency:
        return _("%(amount)s thrown away") % {"amount": amount}
    told = {"amount": amount, "money": words.money(lost), "currency": currency}
    return _("%(amount)s thrown away = %(money)s %(currency)s") % told


def _moment(done: Finding | None, now: datetime) -> str:
    if done is None or done.done_at is None:
        return ""
    clock = business().clock
    then, here = (clock.local(int(one.timestamp())) for one in (done.done_at, now))
    day = "" if then.date() == here.date() else f"{words.day_name(then.date())}, "
    return f"{day}{then:%H:%M}"


def _days(done: Finding | None) -> str:
    answer = (done.answer or {}) if done else {}
    if not answer:
        return ""
    first, last = (words.day_name(date.fromisoformat(answer[name])) for name in ("first", "last"))
    return _("%(first)s to %(last)s") % {"first": first, "last": last}
