"""What people do to a lot that they name by its strip number, each with their right to it.

Who may not see a lot is told that it is not there; who sees it and may not act is told who may.
The acts themselves are those of ``lots``, ``holds``, ``take_outs`` and ``transfers``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from inventory.engine.take_outs import Why
from inventory.fields import LIMIT, quantised
from inventory.models import Hold, Location, Lot, Movement, OnHand, Transfer
from inventory.problems import Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.selectors.business import business
from inventory.selectors.measures import item_measures
from inventory.services.holds import hold_area, hold_location, hold_lot, release_hold
from inventory.services.lots import Change, Part, split_lot
from inventory.services.take_outs import Known, take_out
from inventory.services.transfers import Load, load_arrived, send_load
from inventory.services.wording import amount, of_lot

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class Amount:
    """``qty`` as typed, in ``unit``, of lot ``strip`` at the place ``at``."""

    strip: str
    at: str
    qty: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class _Found:
    lot: Lot
    place: Location
    base: Decimal


def hold_strip(
    viewer: Viewer,
    strip: str,
    *,
    at_place: str = "",
    reason: str,
    note_text: str = "",
    by: User | None,
    at: datetime,
) -> list[Hold]:
    """Hold a lot and its parts at one place, or everywhere (an empty ``at_place``)."""
    lot = _lot(viewer, strip)
    place = _place(viewer, at_place) if at_place else None
    allowed = viewer.may_everywhere(Act.HOLD) if place is None else viewer.may(Act.HOLD, place.pk)
    if not allowed:
        raise Refused(_may_not_hold(lot, place))
    why = _reason(reason, note_text)
    return hold_lot(lot, location=place, reason=why, note_text=note_text, by=by, at=at)


def hold_store(
    viewer: Viewer, area_id: int, *, reason: str, note_text: str = "", by: User | None, at: datetime
) -> list[Hold]:
    """Hold all that is kept in a storage area."""
    area = seen.only(seen.areas(viewer), pk=area_id)
    _demand(viewer, Act.HOLD, area.location, "hold what is kept there")
    return hold_area(area, reason=_reason(reason, note_text), note_text=note_text, by=by, at=at)


def hold_place(
    viewer: Viewer, code: str, *, reason: str, note_text: str = "", by: User | None, at: datetime
) -> list[Hold]:
    """Hold all that is at a place, a truck for one."""
    place = _place(viewer, code)
    _demand(viewer, Act.HOLD, place, "hold what is there")
    return hold_location(
        place, reason=_reason(reason, note_text), note_text=note_text, by=by, at=at
    )


def release_strip(viewer: Viewer, hold_id: int, *, why: str, by: User | None, at: datetime) -> Hold:
    """End a hold, with the reason why the food is safe."""
    hold = seen.only(seen.holds(viewer), pk=hold_id)
    place = hold.location
    if place is not None:
        _demand(viewer, Act.RELEASE, place, "release a hold")
    elif not viewer.may_everywhere(Act.RELEASE):
        raise Refused(_not_allowed("A manager of every place releases what is held everywhere."))
    if not why.strip():
        message = f"Say why {of_lot(hold.lot)} may be used again, and who said so."
        raise Refused(Problem("no_reason", message, "why"))
    return release_hold(hold.pk, why=why.strip(), by=by, at=at)


def take_out_strip(
    viewer: Viewer, wanted: Amount, *, why: str, by: User | None, at: datetime
) -> Movement:
    """Waste, a staff meal, a tasting, a donation."""
    found = _found(viewer, wanted, Act.TAKE_OUT, "take something out")
    if why not in set(Why):
        raise Refused(Problem("no_reason", "Choose why it is taken out.", "why"))
    known = Known(
        lot=found.lot,
        location=found.place,
        qty=found.base,
        happened_at=at,
        typed_qty=wanted.qty,
        typed_unit=wanted.unit,
    )
    return take_out(known, reason=why, waste=Why(why).is_waste, by=by, at=at)


def change_strip(
    viewer: Viewer,
    wanted: Amount,
    *,
    change: str,
    use_by: date | None = None,
    by: User | None,
    at: datetime,
) -> Lot:
    """Open, thaw, freeze or portion; the new lot, which needs a strip of its own."""
    found = _found(viewer, wanted, Act.CHANGE_LOT, "open, thaw, freeze or portion")
    if change not in set(Change):
        raise Refused(Problem("no_change", "Choose what is done with it.", "change"))
    part = Part(found.lot, found.place, found.base, Change(change), use_by)
    return split_lot(part, happened_at=at, by=by, at=at)


def move_strip(
    viewer: Viewer, wanted: Amount, *, to: str, by: User | None, at: datetime
) -> Transfer:
    """Send some of a lot to another place; it is there when somebody says that it arrived."""
    found = _found(viewer, wanted, Act.MOVE, "send goods")
    target = Location.objects.filter(code=to, retired_on=None).exclude(pk=found.place.pk).first()
    if target is None:
        raise Refused(Problem("no_place", "Choose another place to send it to.", "to"))
    load = Load(
        kind=Transfer.Kind.BETWEEN,
        source=found.place,
        target=target,
        picks=[(found.lot, found.base)],
        leaves_on=business().day_of(at),
    )
    return send_load(load, happened_at=at, by=by, at=at)


def take_in(
    viewer: Viewer,
    number: str,
    *,
    arrived: Mapping[str, Decimal] | None = None,
    by: User | None,
    at: datetime,
) -> Transfer:
    """Goods that were on their way are here; ``arrived`` as in ``load_arrived``."""
    transfer = seen.only(seen.transfers(viewer), number=number)
    _demand(viewer, Act.MOVE, transfer.target, "take goods in")
    return load_arrived(number, arrived=arrived, happened_at=at, by=by, at=at)


def _lot(viewer: Viewer, strip: str) -> Lot:
    return seen.only(seen.lots(viewer), strip=strip.strip().upper())


def _place(viewer: Viewer, code: str) -> Location:
    return seen.only(seen.locations(viewer), code=code)


def _found(viewer: Viewer, wanted: Amount, act: Act, deed: str) -> _Found:
    lot, place = _lot(viewer, wanted.strip), _place(viewer, wanted.at)
    _demand(viewer, act, place, deed)
    base = _base(lot, wanted)
    there = OnHand.objects.filter(lot=lot, location=place, qty__gt=0).first()
    if there is None:
        raise Refused(_gone(lot, place))
    return _Found(lot, place, _all_or_less(base, there.qty))


def _base(lot: Lot, wanted: Amount) -> Decimal:
    if not wanted.qty.is_finite() or wanted.qty <= 0:
        raise Refused(Problem("not_positive", "Type how much: more than 0.", "qty"))
    if wanted.qty != quantised(min(wanted.qty, LIMIT)):
        message = f"{wanted.qty:f} is more exact, or more, than anybody weighs. Type it shorter."
        raise Refused(Problem("not_weighed", message, "qty"))
    base = item_measures().in_base(lot.item.code, wanted.qty, wanted.unit)
    if base > LIMIT:
        raise Refused(Problem("too_much", "That is more than there can be. Type less.", "qty"))
    return base


# What a figure of six places may be off, relative to what is there.
_ROUNDING = Decimal("0.000001")


def _all_or_less(base: Decimal, there: Decimal) -> Decimal:
    """All that is there where the typed figure is all of it but for rounding: no crumbs stay
    on the books."""
    return there if abs(base - there) <= there * _ROUNDING else base


def _gone(lot: Lot, place: Location) -> Problem:
    rows = OnHand.objects.filter(lot=lot, qty__gt=0).select_related("location")
    elsewhere = [f"{amount(lot.item, row.qty)} at {row.location}" for row in rows]
    now = f"There is {' and '.join(elsewhere)}." if elsewhere else "There is none left anywhere."
    message = f"{of_lot(lot)} is no longer at {place}: somebody was quicker. {now}"
    return Problem("stale", message, "", {"lot": lot.strip, "location": place.code})


def _reason(typed: str, note_text: str) -> Hold.Reason:
    if typed not in Hold.Reason.values:
        raise Refused(Problem("no_reason", "Choose why it is held.", "reason"))
    if typed == Hold.Reason.OTHER and not note_text.strip():
        message = "Write what is known: 'other' alone tells nobody why it is held."
        raise Refused(Problem("no_note", message, "note"))
    return Hold.Reason(typed)


def _demand(viewer: Viewer, act: Act, place: Location, deed: str) -> None:
    if not viewer.may(act, place.pk):
        message = f"You may not {deed} at {place}. Ask a manager, or somebody who works there."
        raise Refused(_not_allowed(message))


def _may_not_hold(lot: Lot, place: Location | None) -> Problem:
    if place is not None:
        return _not_allowed(f"You may not hold {of_lot(lot)} at {place}; ask a manager there.")
    return _not_allowed(
        f"You may hold {of_lot(lot)} at your own place. Tell a manager at once: they hold it "
        "everywhere."
    )


def _not_allowed(message: str) -> Problem:
    return Problem("not_allowed", message)
