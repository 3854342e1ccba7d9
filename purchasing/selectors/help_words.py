"""Helps as buttons: what they say, and what they send."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from inventory.engine.help import Help, Way
from inventory.engine.take_outs import Why
from purchasing import words

_LONGEST = 24
_MOST = Decimal(10) ** 9


@dataclass(frozen=True, slots=True)
class Link:
    words: str
    code: str


@dataclass(frozen=True, slots=True)
class Choice:
    """One press. ``sends`` is the value of the button; empty where ``links`` lead on instead.
    ``saves`` empty: nothing in money, or not for this person."""

    way: str
    words: str
    sends: str = ""
    saves: str = ""
    links: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True)
class Sent:
    """What a button sent: ``qty`` in the item's own unit."""

    way: Way
    qty: Decimal
    unit: str
    to: str


@dataclass(frozen=True, slots=True)
class Own:
    """Quantities in the item's ``unit``: what to help with, of what is there."""

    qty: Decimal
    there: Decimal
    unit: str


def choice(one: Help, own: Own, names: Mapping[str, str], *, why: Why, sees: bool) -> Choice:
    """``names``: of places, or of what can be made; ``why`` it would be thrown away."""
    if one.way is Way.PREP:
        links = tuple(Link(names[code], code) for code in one.to)
        return Choice(one.way, _("prep it into"), links=links)
    if one.way is Way.ANSWER:
        return Choice(one.way, _("answer the hold"))
    qty = handy(own)
    to = (why,) if one.way is Way.THROW_AWAY else one.to
    said = {
        "qty": words.quantity(qty, own.unit),
        "place": names.get(one.to[0], "") if one.to else "",
    }
    saved = words.money(Decimal(repr(one.saved))) if sees and one.saved else ""
    return Choice(one.way, _words(one.way) % said, f"{one.way}|{qty:f}|{'|'.join(to)}", saved)


def _words(way: Way) -> str:
    return {
        Way.MOVE: _("send %(qty)s to %(place)s"),
        Way.FREEZE: _("freeze %(qty)s"),
        Way.STAFF_MEAL: _("staff meal, %(qty)s"),
        Way.DONATE: _("donate %(qty)s"),
        Way.THROW_AWAY: _("throw %(qty)s away"),
    }[way]


def handy(own: Own) -> Decimal:
    """As one would weigh it off: all of it where it is all, else as it is said; pieces are
    whole. Never more than there is."""
    if own.qty >= own.there:
        return own.there
    if own.unit == "each":
        return min(own.there, max(Decimal(1), own.qty.quantize(Decimal(1))))
    return min(own.there, Decimal(words.figure(own.qty).replace(",", "")))


def sent(value: str, unit: str) -> Sent | None:
    """A button's value; None where it is not one."""
    way, _bar, rest = value.partition("|")
    qty, _bar, to = rest.partition("|")
    if way not in set(Way):
        return None
    try:
        figure = Decimal(qty[:_LONGEST])
    except ArithmeticError:
        return None
    is_one = figure.is_finite() and abs(figure) < _MOST
    return Sent(Way(way), figure, unit, to) if is_one else None
