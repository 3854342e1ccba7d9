"""How likely a lot is not used in time, and how much of it.

The same projection as the reorder run's: what is there and what is on its way, drawn first
expired first out on every path. What is left of a lot after its use-by is waste.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.engine.dates import BusinessClock
from inventory.engine.draws import Draws
from inventory.engine.kitchen import TOLERANCE, Coming, Instant, StockLot
from inventory.engine.projection import IN_THE_HOUSE, Floats, Lots, project


@dataclass(frozen=True, slots=True)
class Risk:
    """``expected``: mean base units left at the end of the use-by; ``chance``: 0 to 1."""

    lot: StockLot
    expected: float
    chance: float


def waste_risks(
    stock: Sequence[StockLot],
    coming: Sequence[Coming],
    draws: Draws,
    weights: Floats,
    *,
    clock: BusinessClock,
    as_of: Instant,
) -> list[Risk]:
    """One risk per lot of one item at one place. ``draws`` reach as far as the lots' use-by
    dates; a lot without a use-by is at no risk. ``weights`` (P,) sum to 1."""
    lots = Lots.of(stock, coming, clock=clock, as_of=as_of)
    left = project(lots.qty[None], lots.serving(draws)[None], draws.qty[None]).left[0]
    here = left[lots.arrives_on == IN_THE_HOUSE]
    in_order = sorted(stock, key=_place_on_shelf)
    return [
        Risk(lot, float(rest @ weights), float((rest > TOLERANCE) @ weights))
        if lot.use_by is not None
        else Risk(lot, 0.0, 0.0)
        for lot, rest in zip(in_order, here, strict=True)
    ]


def _place_on_shelf(lot: StockLot) -> tuple[date, date, str]:
    """The order of ``Lots``: undated last, of unknown receipt first."""
    return lot.use_by or date.max, lot.received or date.min, lot.strip
