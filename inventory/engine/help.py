"""What would help a lot that may not be used in time, the most money saved first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from inventory.engine.dates import BusinessClock
from inventory.engine.draws import Draws
from inventory.engine.kitchen import TOLERANCE, Coming, Instant, StockLot
from inventory.engine.projection import Floats
from inventory.engine.waste_risk import waste_risks


class Way(StrEnum):
    """In the order of preference among equals (common practice, no source): what keeps it food
    for guests, then for others, then the bin."""

    ANSWER = "answer"  # somebody must say why it is on hold, and until when
    MOVE = "move"
    FREEZE = "freeze"
    PREP = "prep"
    STAFF_MEAL = "staff_meal"
    DONATE = "donate"
    THROW_AWAY = "throw_away"


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """``qty`` base units more of it would be used at ``place`` in time."""

    place: str
    qty: float


@dataclass(frozen=True, slots=True)
class Case:
    """One lot at one place. ``expected``: base units that will not be used in time, of ``qty``
    that are there; ``cost`` of a base unit, None where not known; ``goes_into``: what is made
    of it."""

    qty: float
    expected: float
    cost: float | None = None
    is_past: bool = False
    on_hold: bool = False
    may_freeze: bool = False
    elsewhere: tuple[Elsewhere, ...] = ()
    goes_into: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Help:
    """``qty`` base units to do it with; ``saved`` in money, None where no cost is known.
    ``to``: the place, or the codes of what could be made."""

    way: Way
    qty: float
    saved: float | None = None
    to: tuple[str, ...] = ()


def what_would_help(case: Case) -> tuple[Help, ...]:
    """The most money saved first, then in the order of ``Way``. Nothing for a lot that will be
    used; what is past its use-by or on hold is neither used nor given away."""
    order = list(Way)
    ways = _of_what_is_lost(case) if case.is_past or case.on_hold else _of_what_is_good(case)
    return tuple(sorted(ways, key=lambda one: (-(one.saved or 0), order.index(one.way))))


def _of_what_is_lost(case: Case) -> Iterator[Help]:
    if case.on_hold:
        yield Help(Way.ANSWER, case.qty)
    yield Help(Way.THROW_AWAY, case.qty, _saved(case, 0))


def _of_what_is_good(case: Case) -> Iterator[Help]:
    lost = min(case.expected, case.qty)
    if lost <= TOLERANCE:
        return
    for other in case.elsewhere:
        moved = min(other.qty, lost)
        if moved > TOLERANCE:
            yield Help(Way.MOVE, moved, _saved(case, moved), (other.place,))
    if case.may_freeze:
        yield Help(Way.FREEZE, lost, _saved(case, lost))
    if case.goes_into:
        yield Help(Way.PREP, lost, to=case.goes_into)
    for way in (Way.STAFF_MEAL, Way.DONATE, Way.THROW_AWAY):
        yield Help(way, lost, _saved(case, 0))


def _saved(case: Case, qty: float) -> float | None:
    return None if case.cost is None else case.cost * qty


def used_elsewhere(
    extra: StockLot,
    stock: Sequence[StockLot],
    coming: Sequence[Coming],
    draws: Draws,
    weights: Floats,
    *,
    until: date,
    clock: BusinessClock,
    as_of: Instant,
) -> float:
    """Mean base units of ``extra`` that another place would use in time, over and above what
    it uses anyway: its own lots and deliveries may then go to waste instead. ``stock``,
    ``coming`` and ``draws`` (J, P) to the day ``until`` are that place's; it is taken to be
    there at once. What keeps longer than ``until`` is not wasted yet."""

    def wasted(lots: Sequence[StockLot]) -> float:
        found = waste_risks(lots, coming, draws, weights, clock=clock, as_of=as_of)
        return sum(risk.expected for risk in found if (risk.lot.use_by or date.max) <= until)

    there = replace(extra, strip=f"{extra.strip}+")
    more = wasted([*stock, there]) - wasted(stock)
    return max(0.0, min(extra.qty, extra.qty - more))
