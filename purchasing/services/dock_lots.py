"""Lots of what was taken in: how much, until when, for how much, and where it goes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from inventory.engine.units import as_decimal
from inventory.models import Item, Lot, StorageArea
from inventory.selectors.measures import Measures
from purchasing.models import OrderLine
from purchasing.services.dock import CameLot, Substitute
from purchasing.services.dock_checks import use_by_of

_STATES = {
    Item.Storage.FROZEN: Lot.State.FROZEN,
    Item.Storage.CHILLED: Lot.State.CHILLED,
    Item.Storage.DRY: Lot.State.AMBIENT,
}


@dataclass(frozen=True, slots=True)
class Shelf:
    """The day of receipt, units, and the area where each item goes (by item id)."""

    day: date
    measures: Measures
    areas: Mapping[int, StorageArea | None]

    def new_lot(
        self, item: Item, supplier_lot: str, use_by: date | None, unit_cost: Decimal | None
    ) -> Lot:
        """Unsaved, without its strip number."""
        return Lot(
            item=item,
            supplier_lot=supplier_lot.strip(),
            received_on=self.day,
            use_by=use_by,
            unit_cost=unit_cost,
            origin=Lot.Origin.RECEIPT,
            state=_STATES.get(Item.Storage(item.storage), "") if item.storage else "",
            area=self.areas.get(item.pk),
        )


@dataclass(frozen=True, slots=True)
class Put:
    """An unsaved lot and how many base units go into it. ``weighed``: base units, where they
    came from a scale."""

    lot: Lot
    qty: Decimal
    weighed: Decimal | None = None
    typed_qty: Decimal | None = None
    typed_unit: str = ""


def put_of(line: OrderLine, came: CameLot, shelf: Shelf) -> Put:
    """The lot of some accepted cases: real weight where the offer is catch weight, priced by
    the price on the order's line."""
    weighed = _weighed(line, came, shelf.measures)
    qty = line.pack_base * came.cases if weighed is None else weighed
    use_by = use_by_of(line.item, shelf.day, came.printed, came.use_by)
    cost = unit_cost(line, came.cases, qty, shelf.measures)
    lot = shelf.new_lot(line.item, came.supplier_lot, use_by, cost)
    if weighed is None:
        return Put(lot, as_decimal(Fraction(qty)), None, came.cases, "case")
    return Put(lot, qty, weighed, _typed_weight(came), came.weight_unit)


def put_of_substitute(sub: Substitute, shelf: Shelf) -> Put:
    """Its price is not on the order; the invoice brings it."""
    use_by = use_by_of(sub.item, shelf.day, sub.use_by)
    lot = shelf.new_lot(sub.item, sub.supplier_lot, use_by, None)
    qty = shelf.measures.in_base(sub.item.code, sub.qty, sub.unit)
    return Put(lot, qty, None, sub.qty, sub.unit)


def unit_cost(line: OrderLine, cases: Decimal, qty: Decimal, measures: Measures) -> Decimal:
    """Currency per base unit of ``qty`` base units in ``cases``, exactly, rounded once."""
    if line.priced_per == "case":
        total = Fraction(line.price) * Fraction(cases)
    else:
        per = measures.base_per(line.item.code, line.priced_per)
        total = Fraction(line.price) * Fraction(qty) / per
    return as_decimal(total / Fraction(qty))


def _weighed(line: OrderLine, came: CameLot, measures: Measures) -> Decimal | None:
    if not line.offer.catch_weight:
        return None
    return measures.in_base(line.item.code, _typed_weight(came), came.weight_unit)


def _typed_weight(came: CameLot) -> Decimal:
    """The sum of what was weighed, never cases times an average."""
    return sum(came.weights, Decimal(0)) if came.total is None else came.total
