"""Exact picking of lots: first expired first out.

Earliest use-by first, undated last, then earliest received, then strip number (rules R6). A
lot is usable on its use-by date.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class LotOnHand:
    """What is there of one lot, in base units. ``key`` is whatever the caller knows it by."""

    key: Hashable
    qty: Decimal
    use_by: date | None
    received: date | None
    strip: str


@dataclass(frozen=True, slots=True)
class Pick:
    key: Hashable
    qty: Decimal


@dataclass(frozen=True, slots=True)
class Picked:
    """``uncovered`` is what no lot could give."""

    picks: tuple[Pick, ...]
    uncovered: Decimal


def rotation_key(use_by: date | None, received: date | None, strip: str) -> tuple[date, date, str]:
    """Sorts lots in the order in which they are to be used."""
    return use_by or date.max, received or date.max, strip


def usable_on(use_by: date | None, day: date) -> bool:
    return use_by is None or use_by >= day


def pick(lots: Iterable[LotOnHand], qty: Decimal, day: date) -> Picked:
    """Draw ``qty`` (>= 0) for use on ``day``; lots on hold are left out by the caller."""
    usable = [lot for lot in lots if lot.qty > 0 and usable_on(lot.use_by, day)]
    usable.sort(key=lambda lot: rotation_key(lot.use_by, lot.received, lot.strip))
    picks: list[Pick] = []
    for lot in usable:
        if qty <= ZERO:
            break
        taken = min(lot.qty, qty)
        picks.append(Pick(lot.key, taken))
        qty -= taken
    return Picked(tuple(picks), max(qty, ZERO))
