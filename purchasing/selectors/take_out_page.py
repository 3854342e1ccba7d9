"""Taking out in three touches: what, how much, why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import F, Q
from django.utils.translation import gettext as _

from inventory.engine.take_outs import Why
from inventory.models import OnHand
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.selectors.business import business
from inventory.selectors.measures import Measures, item_measures
from purchasing import words

AT_ONCE = 60


@dataclass(frozen=True, slots=True)
class OnShelf:
    """``exact``: all of it in the item's own unit, as the form sends it."""

    strip: str
    item: str
    place: str
    code: str
    there: str
    exact: str
    unit: str
    units: tuple[str, ...]
    use_by: str
    left: str
    is_past: bool
    worth: str


@dataclass(frozen=True, slots=True)
class Reason:
    value: str
    words: str
    is_waste: bool


@dataclass(frozen=True, slots=True)
class TakeOutPage:
    asked: str
    chosen: OnShelf | None
    shelf: tuple[OnShelf, ...]
    is_more: bool
    reasons: tuple[Reason, ...]
    currency: str

    @property
    def shows_worth(self) -> bool:
        return any(one.worth for one in self.shelf)


def take_out_page(
    viewer: Viewer, now: datetime, *, asked: str = "", strip: str = "", at: str = ""
) -> TakeOutPage:
    """``asked``: part of a strip or name; ``strip`` and ``at``: the lot and the place that were
    touched. What expires first stands first."""
    house, measures = business(), item_measures()
    today = house.day_of(now)
    rows = seen.narrowed(seen.on_hand(viewer), viewer, act=Act.TAKE_OUT)
    chosen = None
    if strip:
        found = seen.only(rows, lot__strip=strip.upper(), location__code=at) if at else None
        chosen = _on_shelf(found, viewer, measures, today) if found else None
    if asked := asked.strip():
        rows = rows.filter(Q(lot__strip__istartswith=asked) | Q(item__name__icontains=asked))
    in_order = rows.order_by(F("lot__use_by").asc(nulls_last=True), "lot__strip", "pk")
    shelf = [] if chosen else list(in_order[: AT_ONCE + 1])
    return TakeOutPage(
        asked=asked,
        chosen=chosen,
        shelf=tuple(_on_shelf(row, viewer, measures, today) for row in shelf[:AT_ONCE]),
        is_more=len(shelf) > AT_ONCE,
        reasons=tuple(Reason(why, _(why), why.is_waste) for why in Why),
        currency=house.currency,
    )


def _on_shelf(row: OnHand, viewer: Viewer, measures: Measures, today: date) -> OnShelf:
    lot, item = row.lot, row.item
    own = measures.in_own_unit(item.code, row.qty)
    left = (lot.use_by - today).days if lot.use_by else None
    sees = viewer.sees_cost(row.location_id) and lot.unit_cost is not None
    base = measures.base_unit(item.code)
    others = [*(unit.word for unit in item.units.all()), base]
    return OnShelf(
        strip=lot.strip,
        item=item.name,
        place=row.location.name,
        code=row.location.code,
        there=words.quantity(own, item.unit),
        exact=words.exactly(own, "each").replace(",", ""),
        unit=item.unit,
        units=(item.unit, *(unit for unit in others if unit != item.unit)),
        use_by=words.day_name(lot.use_by) if lot.use_by else "",
        left="" if left is None else words.days_left(left),
        is_past=left is not None and left < 0,
        worth=words.money(row.qty * lot.unit_cost) if sees and lot.unit_cost else "",
    )
