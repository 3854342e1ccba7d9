"""The picture of one line: the same numbers as points of an SVG and as rows of a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.engine.kitchen import TOLERANCE
from inventory.selectors.measures import Measures
from purchasing import words
from purchasing.engine.picture import DayPicture
from purchasing.selectors.run_document import in_own_unit
from purchasing.selectors.what_if import Ahead, LookAhead

LEFT, RIGHT, TOP, BOTTOM = 44, 632, 14, 172
# A chance of running out below this is not drawn (own choice, as in words.WORTH_SAYING).
WORTH_DRAWING = 0.05
WORDED = 9  # days that carry their name


@dataclass(frozen=True, slots=True)
class Column:
    """One day on the picture; places as texts. ``bar``: what comes in. ``word``: the day, left
    out where days stand close; ``note``: what is wrong, at the first of several such days."""

    x: str
    edge: str
    width: str
    word: str
    bar_y: str
    bar_height: str
    note: str
    short: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One day of the table, in words and in the item's own unit."""

    day: str
    comes: str
    use: str
    least: str
    about: str
    most: str
    par: str
    spoils: str
    chance: str


@dataclass(frozen=True, slots=True)
class Mark:
    y: str
    word: str


@dataclass(frozen=True, slots=True)
class Picture:
    """``band``, ``line``, ``par``: points of the SVG; ``told``: the picture in a sentence."""

    title: str
    told: str
    unit: str
    band: str
    line: str
    par: str
    columns: tuple[Column, ...]
    marks: tuple[Mark, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class _Scale:
    days: int
    highest: float

    def x(self, nth: int) -> float:
        return LEFT + (RIGHT - LEFT) * (nth + 0.5) / max(self.days, 1)

    def y(self, qty: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * qty / self.highest

    def points(self, values: Iterable[tuple[int, float]]) -> str:
        return " ".join(f"{self.x(nth):.1f},{self.y(qty):.1f}" for nth, qty in values)


def picture_of(ahead: Ahead, seen: LookAhead, name: str) -> Picture:
    """``name`` of the item."""
    line, days, cases = ahead.decision.line, ahead.days, ahead.decision.cases
    pair = line.location, line.item
    pars = [seen.run.pars.terms(pair, one.day).par for one in days]
    tops = [max(one.high, one.arrives) for one in days] + [par or 0.0 for par in pars]
    scale = _Scale(len(days), max(tops, default=0.0) or 1.0)
    own = _Own(line.item, seen.measures)
    rows = tuple(_row(one, par, own) for one, par in zip(days, pars, strict=True))
    known_pars = [(nth, par) for nth, par in enumerate(pars) if par is not None]
    upper = [(nth, one.high) for nth, one in enumerate(days)]
    lower = [(nth, one.low) for nth, one in reversed(list(enumerate(days)))]
    return Picture(
        title=ngettext("%(item)s with 1 case", "%(item)s with %(n)d cases", cases)
        % {"item": name, "n": cases},
        told=_told(days, name),
        unit=seen.measures.own_unit(line.item),
        band=scale.points([*upper, *lower]),
        line=scale.points((nth, one.middle) for nth, one in enumerate(days)),
        par=scale.points(known_pars),
        columns=tuple(_column(nth, days, scale) for nth in range(len(days))),
        marks=tuple(
            Mark(f"{scale.y(share * scale.highest):.1f}", own.bare(share * scale.highest))
            for share in (0.0, 0.5, 1.0)
        ),
        rows=rows,
    )


@dataclass(frozen=True, slots=True)
class _Own:
    """Base units of the engine in the unit that people read."""

    item: str
    measures: Measures

    def value(self, base: float) -> Decimal:
        return Decimal(in_own_unit(base, self.item, self.measures))

    def bare(self, base: float) -> str:
        return words.figure(self.value(base))


def _column(nth: int, days: Sequence[DayPicture], scale: _Scale) -> Column:
    one, width = days[nth], (RIGHT - LEFT) / len(days)
    top = scale.y(one.arrives)
    return Column(
        x=f"{scale.x(nth):.1f}",
        edge=f"{scale.x(nth) - width / 2:.1f}",
        width=f"{width:.1f}",
        word=_day(one.day) if nth % -(-len(days) // WORDED) == 0 else "",
        bar_y=f"{top:.1f}",
        bar_height=f"{BOTTOM - top:.1f}",
        note=_note(one, days[nth - 1] if nth else None),
        short=one.short >= WORTH_DRAWING,
    )


def _note(one: DayPicture, before: DayPicture | None) -> str:
    """Once for several such days in a row: words would stand in each other's way."""
    if one.short >= WORTH_DRAWING:
        goes_on = before is not None and before.short >= WORTH_DRAWING
        return "" if goes_on else _("out?")
    goes_on = before is not None and before.spoils > TOLERANCE
    return _("expires") if one.spoils > TOLERANCE and not goes_on else ""


def _row(one: DayPicture, par: float | None, own: _Own) -> Row:
    def said(qty: float) -> str:
        return own.bare(qty) if qty > TOLERANCE else ""

    chance = Decimal(str(round(one.short, 3)))
    return Row(
        day=words.day_name(one.day),
        comes=said(one.arrives),
        use=own.bare(one.use),
        least=own.bare(one.low),
        about=own.bare(one.middle),
        most=own.bare(one.high),
        par="" if par is None else own.bare(par),
        spoils=said(one.spoils),
        chance=words.chance(chance) if one.short >= WORTH_DRAWING else "",
    )


def _told(days: Sequence[DayPicture], name: str) -> str:
    short = [one.day for one in days if one.short >= WORTH_DRAWING]
    spoils = [one.day for one in days if one.spoils > TOLERANCE]
    said = [_("Stock of %(item)s day by day, with the range of nine days in ten.") % {"item": name}]
    if short:
        said.append(_("It may run out on %(days)s.") % {"days": words.listed(short)})
    if spoils:
        said.append(_("Something expires unused on %(days)s.") % {"days": words.listed(spoils)})
    return " ".join(said)


def _day(day: date) -> str:
    return f"{day:%a} {day.day}"
