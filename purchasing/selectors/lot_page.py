"""Everything about one strip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.contrib.auth.models import User
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _

from inventory.engine.units import as_decimal
from inventory.models import Hold, Location, Lot, Movement, OnHand
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.selectors.allergens import lot_allergens, sentence
from inventory.selectors.business import Business, business
from inventory.selectors.measures import Measures, item_measures
from purchasing import words
from purchasing.selectors.hold_words import hold_reason
from purchasing.selectors.lot_words import dated
from purchasing.selectors.trace import receipt_lines
from purchasing.selectors.trace_told import Teller

HISTORY = 60


@dataclass(frozen=True, slots=True)
class There:
    """``exact``: all of it, in the item's own unit, as a form sends it."""

    place: str
    code: str
    qty: str
    exact: str
    may_change: bool
    may_take_out: bool
    may_move: bool
    may_hold: bool


@dataclass(frozen=True, slots=True)
class HoldLine:
    said: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class Moved:
    when: str
    what: str
    qty: str
    place: str
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class Relative:
    strip: str
    said: str


@dataclass(frozen=True, slots=True)
class LotPage:
    strip: str
    item: str
    item_code: str
    unit: str
    units: tuple[str, ...]
    head: str
    until: str
    left: str
    notes: tuple[str, ...]
    dated: tuple[str, ...]
    allergens: str
    supplier_lot: str
    came: tuple[str, ...]
    kept: str
    cost: str
    there: tuple[There, ...]
    parent: Relative | None
    parts: tuple[Relative, ...]
    holds: tuple[HoldLine, ...]
    history: tuple[Moved, ...]
    is_all_history: bool
    changes: tuple[tuple[str, str], ...]
    reasons: tuple[tuple[str, str], ...]
    targets: tuple[tuple[str, str], ...]
    may_hold_everywhere: bool

    @property
    def may_hold(self) -> bool:
        return self.may_hold_everywhere or any(one.may_hold for one in self.there)


def lot_page(strip: str, viewer: Viewer, now: datetime, *, whole: bool = False) -> LotPage:
    """``whole``: every movement, not the last ones only. Raises ``NotThere``."""
    lot = seen.only(seen.lots(viewer), strip=strip.upper())
    return _Page(lot, viewer, business(), item_measures(), now).page(whole)


class _Page:
    def __init__(
        self, lot: Lot, viewer: Viewer, house: Business, measures: Measures, now: datetime
    ) -> None:
        self._lot, self._viewer, self._house = lot, viewer, house
        self._measures, self._now = measures, now
        self._today = house.day_of(now)

    def page(self, whole: bool) -> LotPage:
        lot = self._lot
        item = lot.item
        history = list(self._movements()[: None if whole else HISTORY + 1])
        left = (lot.use_by - self._today).days if lot.use_by else None
        holds = list(self._holds())
        return LotPage(
            strip=lot.strip,
            item=item.name,
            item_code=item.code,
            unit=item.unit,
            units=tuple(self._units()),
            head=self._head(),
            until=words.day_name(lot.use_by) if lot.use_by else "",
            left=words.days_left(left) if left is not None else "",
            notes=tuple(_notes(holds, left)),
            dated=dated(lot, self._today),
            allergens=sentence(lot_allergens([lot])[lot.strip]) if _is_food(lot) else "",
            supplier_lot=lot.supplier_lot,
            came=tuple(self._came()),
            kept=f"{lot.area.location.name}, {lot.area.name}" if lot.area else "",
            cost=self._cost(),
            there=tuple(self._there(row, holds) for row in lot.on_hand.all()),
            parent=self._parent(),
            parts=tuple(self._parts()),
            holds=tuple(map(self._hold, holds)),
            history=tuple(map(self._moved, history if whole else history[:HISTORY])),
            is_all_history=whole or len(history) <= HISTORY,
            changes=tuple(self._changes()),
            reasons=tuple((value, _(label)) for value, label in Hold.Reason.choices),
            targets=tuple(self._targets()),
            may_hold_everywhere=self._viewer.may_everywhere(Act.HOLD),
        )

    def _head(self) -> str:
        state = _(self._lot.get_state_display()) if self._lot.state else ""
        total = sum((row.qty for row in self._lot.on_hand.all()), Decimal(0))
        there = self._said(total) if total else _("none left")
        return ", ".join(filter(None, [there, state]))

    def _units(self) -> Iterator[str]:
        item = self._lot.item
        yield item.unit
        base = self._measures.base_unit(item.code)
        yield from (
            unit for unit in [*(row.word for row in item.units.all()), base] if unit != item.unit
        )

    def _said(self, base: Decimal) -> str:
        item = self._lot.item
        return words.quantity(self._measures.in_own_unit(item.code, base), item.unit)

    def _came(self) -> Iterator[str]:
        lines = receipt_lines([self._lot.pk])
        yield from Teller(self._measures, self._house.clock).came(self._lot, lines)

    def _cost(self) -> str:
        lot = self._lot
        if lot.unit_cost is None or not getattr(lot, "cost_is_seen", False):
            return ""
        each = as_decimal(Fraction(lot.unit_cost) * self._measures.base_per_own(lot.item.code))
        return _("%(sum)s %(currency)s a %(unit)s") % {
            "sum": words.money(each),
            "currency": self._house.currency,
            "unit": lot.item.unit,
        }

    def _there(self, row: OnHand, holds: Iterable[Hold]) -> There:
        place, may = row.location, self._viewer.may
        here = (None, place.pk)
        free = not any(one.closed_at is None and one.location_id in here for one in holds)
        own = self._measures.in_own_unit(self._lot.item.code, row.qty)
        return There(
            place=place.name,
            code=place.code,
            qty=self._said(row.qty),
            exact=words.exactly(own, "each").replace(",", ""),
            may_change=free and may(Act.CHANGE_LOT, place.pk),
            may_take_out=may(Act.TAKE_OUT, place.pk),
            may_move=free and may(Act.MOVE, place.pk),
            may_hold=may(Act.HOLD, place.pk),
        )

    def _parent(self) -> Relative | None:
        parent = self._lot.parent
        return Relative(parent.strip, _until(parent)) if parent else None

    def _parts(self) -> Iterator[Relative]:
        for part in self._lot.parts.order_by("pk"):
            state = _(part.get_state_display()) if part.state else ""
            yield Relative(part.strip, ", ".join(filter(None, [state, _until(part)])))

    def _holds(self) -> Iterable[Hold]:
        rows = Hold.objects.filter(lot=self._lot).order_by("-pk")
        return rows.select_related("location", "opened_by", "closed_by")

    def _hold(self, hold: Hold) -> HoldLine:
        where = hold.location.name if hold.location else _("everywhere")
        said = _("%(where)s since %(when)s%(who)s: %(why)s") % {
            "where": where,
            "when": self._moment(hold.opened_at) if hold.opened_at else _("before the books"),
            "who": _by(hold.opened_by),
            "why": hold_reason(hold),
        }
        if hold.closed_at is not None:
            said += _("; released %(when)s%(who)s") % {
                "when": self._moment(hold.closed_at),
                "who": _by(hold.closed_by),
            }
        return HoldLine(said, hold.closed_at is None)

    def _movements(self) -> QuerySet[Movement]:
        rows = seen.narrowed(Movement.objects.filter(lot=self._lot), self._viewer)
        return rows.select_related("location", "by").order_by(
            F("happened_at").desc(nulls_last=True), "-pk"
        )

    def _moved(self, move: Movement) -> Moved:
        what = _(move.get_kind_display())
        sign = "+" if move.qty > 0 else "\u2212"
        return Moved(
            when=self._moment(move.happened_at) if move.happened_at else _("before the books"),
            what=_("taken back: %(what)s") % {"what": what} if move.reverses_id else what,
            qty=f"{sign}{self._said(abs(move.qty))}",
            place=move.location.name,
            who=_name(move.by),
            why=move.reason or _reference(move.reference),
        )

    def _changes(self) -> Iterator[tuple[str, str]]:
        """Names of ``services.lots.Change``, and what people call them."""
        frozen = self._lot.state == Lot.State.FROZEN
        if frozen:
            yield "thaw", _("thaw")
        elif self._lot.state != Lot.State.OPENED:
            yield "open", _("open")
        if self._lot.item.may_freeze and not frozen:
            yield "freeze", _("freeze")
        yield "portion", _("portion")

    def _targets(self) -> Iterator[tuple[str, str]]:
        for place in Location.objects.filter(retired_on=None).order_by("name"):
            yield place.code, place.name

    def _moment(self, moment: datetime) -> str:
        local = self._house.clock.local(int(moment.timestamp()))
        return f"{words.day_name(local.date())} {local:%H:%M}"


def _is_food(lot: Lot) -> bool:
    return lot.item.kind != lot.item.Kind.PACKAGING


def _notes(holds: Iterable[Hold], left: int | None) -> Iterator[str]:
    if any(hold.closed_at is None for hold in holds):
        yield _("on hold: not used, sent or sold")
    if left is not None and left < 0:
        yield _("past its use-by: take it out, unless a manager says why not")


def _until(lot: Lot) -> str:
    return _("use by %(day)s") % {"day": words.day_name(lot.use_by)} if lot.use_by else ""


def _by(user: User | None) -> str:
    return _(" by %(name)s") % {"name": _name(user)} if user else ""


def _name(user: User | None) -> str:
    return (user.get_full_name() or user.get_username()) if user else ""


def _reference(reference: str) -> str:
    """``transfer:T4`` as people say it."""
    kind, bar, number = reference.partition(":")
    said = {"transfer": _("load"), "split": _("as"), "batch": _("batch"), "receipt": _("receipt")}
    return f"{said[kind]} {number}" if bar and kind in said else ""
