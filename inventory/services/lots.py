"""Lots: strip numbers, and parts that get a use-by of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from inventory.engine.dates import Freeze, last_day_by_date_mark, use_by_changed
from inventory.engine.strips import strips
from inventory.models import Counter, Location, Lot, Movement, StorageArea
from inventory.problems import Problem, Refused
from inventory.selectors.business import business
from inventory.services.acts import one_act
from inventory.services.counters import locked_counter
from inventory.services.holds import copy_holds
from inventory.services.ledger import Entry, post
from inventory.services.log import note
from inventory.services.usable import Holds
from inventory.services.wording import of_lot, why_held

if TYPE_CHECKING:
    from django.contrib.auth.models import User

_ROWS_AT_ONCE = 1000


class Change(StrEnum):
    """What is done to a part of a lot."""

    OPEN = "open"
    THAW = "thaw"
    FREEZE = "freeze"
    PORTION = "portion"


_BECOMES = {
    Change.OPEN: Lot.State.OPENED,
    Change.THAW: Lot.State.THAWING,
    Change.FREEZE: Lot.State.FROZEN,
}


@dataclass(frozen=True, slots=True)
class Part:
    """``qty`` base units of ``lot`` at ``location``. ``use_by``: an earlier date that somebody
    wants on the label."""

    lot: Lot
    location: Location
    qty: Decimal
    change: Change
    use_by: date | None = None
    area: StorageArea | None = None


def lock_strips() -> Counter:
    return locked_counter("strips")


def new_lots(lots: Sequence[Lot]) -> list[Lot]:
    """Give ``lots`` (unsaved) their strip numbers and store them; a step of a larger act."""
    counter = lock_strips()
    words, counter.value = strips(counter.value, len(lots))
    counter.save(update_fields=["value"])
    for lot, word in zip(lots, words, strict=True):
        lot.strip = word
    return Lot.objects.bulk_create(lots, batch_size=_ROWS_AT_ONCE)


@one_act
def split_lot(part: Part, *, happened_at: datetime, by: User | None, at: datetime) -> Lot:
    """Open, thaw, freeze or portion: move a part to a child lot with its own use-by.

    What is on hold there stays as it is; holds elsewhere follow the part. Refused too if there
    is not that much, if the item may not be frozen, or if the wanted use-by is later than the
    rules give.
    """
    day = business().day_of(happened_at)
    if problem := _not_possible(part):
        raise Refused(problem)
    (child,) = new_lots([_child(part, day)])
    reference = f"split:{child.strip}"
    post(
        [
            Entry(Movement.Kind.SPLIT, part.lot, part.location, -part.qty, happened_at, reference),
            Entry(Movement.Kind.SPLIT, child, part.location, part.qty, happened_at, reference),
        ],
        by=by,
        at=at,
    )
    _demand_not_held(part, happened_at)
    copy_holds(part.lot, child)
    note(part.change, f"lot:{part.lot.strip}", by=by, at=at, changes=_what_changed(part, child))
    return child


def _not_possible(part: Part) -> Problem | None:
    lot = part.lot
    if part.change is Change.FREEZE and not lot.item.may_freeze:
        return Problem("may_not_freeze", f"{lot.item} may not be frozen.", "change")
    if part.change is Change.FREEZE and lot.state == Lot.State.FROZEN:
        return Problem("frozen_already", f"{of_lot(lot)} is frozen already.", "change")
    if part.change is Change.THAW and lot.state != Lot.State.FROZEN:
        return Problem("not_frozen", f"{of_lot(lot)} is not frozen.", "change")
    return None


def _demand_not_held(part: Part, happened_at: datetime) -> None:
    """Asked after what is on hand has changed, as draws do: a hold that comes meanwhile is
    seen, or sees the part."""
    lot, place = part.lot, part.location
    hold = Holds([lot.pk]).on(lot.pk, place.pk, happened_at)
    if hold is None:
        return
    message = (
        f"{of_lot(lot)} is on hold ({why_held(hold)}), so nothing is opened, thawed, frozen or "
        "portioned. A manager releases the hold and says why, or it is taken out and thrown away."
    )
    raise Refused(Problem("on_hold", message, "lot", {"lot": lot.strip, "reason": hold.reason}))


def _child(part: Part, day: date) -> Lot:
    lot = part.lot
    stays = part.change is Change.PORTION
    return Lot(
        item=lot.item,
        supplier_lot=lot.supplier_lot,
        received_on=lot.received_on,
        use_by=_label_date(part, use_by_of_part(part, day)),
        unit_cost=lot.unit_cost,
        origin=Lot.Origin.PART,
        state=lot.state if stays else _BECOMES[part.change],
        state_since=lot.state_since if stays else day,
        parent=lot,
        area=part.area or lot.area,
    )


def use_by_of_part(part: Part, day: date) -> date | None:
    """The latest use-by that a part changed on ``day`` may have (design, Lot)."""
    lot = part.lot
    match part.change:
        case Change.PORTION:
            return lot.use_by
        case Change.FREEZE:
            return None  # the clock stands while it is frozen
        case Change.THAW:
            return use_by_changed(_own_date(lot, day), day, lot.item.shelf_life_thawed_days)
        case Change.OPEN:
            marked = lot.item.tcs and lot.item.ready_to_eat
            mark = last_day_by_date_mark(day) if marked else None
            life = lot.item.shelf_life_opened_days
            return use_by_changed(_own_date(lot, day), day, life, mark=mark)


def _own_date(lot: Lot, day: date) -> date | None:
    """The lot's use-by; of one that was frozen here and leaves the freezer on ``day``, the
    date it had before with the whole days frozen added, or an earlier one on its own label."""
    before = _before_freezing(lot)
    if before is None or before is lot or lot.state_since is None:
        return lot.use_by
    free = Freeze(lot.state_since, day).free_days
    return use_by_changed(before.use_by, day, None, mark=lot.use_by, frozen_days=free)


def _before_freezing(lot: Lot) -> Lot | None:
    """The lot as it was before it was frozen here; None if it came frozen."""
    while lot.state == Lot.State.FROZEN:
        if lot.parent is None:
            return None
        lot = lot.parent
    return lot


def _label_date(part: Part, latest: date | None) -> date | None:
    wanted = part.use_by
    if wanted is None:
        return latest
    if latest is not None and wanted > latest:
        raise Refused(
            Problem(
                "use_by_too_late",
                f"The use-by of this part of {of_lot(part.lot)} is {latest} at the latest, not "
                f"{wanted}. Nobody lengthens a use-by by hand.",
                "use_by",
                {"latest": str(latest)},
            )
        )
    return wanted


def _what_changed(part: Part, child: Lot) -> dict[str, object]:
    return {
        "part": child.strip,
        "location": part.location.code,
        "qty": str(part.qty),
        "use_by": str(child.use_by or ""),
    }
