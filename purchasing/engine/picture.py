"""One line of an order as a picture: its stock day by day on all paths, with so many cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from inventory.engine.draws import Draws
from inventory.engine.kitchen import TOLERANCE
from inventory.engine.projection import Bools, Floats, Lots, project
from inventory.engine.weighted import chance, mean, quantile
from purchasing.engine.lines import Line

LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class DayPicture:
    """Base units. ``low``, ``middle``, ``high``: what is left at the end of the day at least on
    nine paths of ten, on half of them, and on one. ``arrives``: this order included. ``use``,
    ``spoils``: means. ``short``: chance, 0 to 1, that something is lacking that day."""

    day: date
    arrives: float
    use: float
    low: float
    middle: float
    high: float
    spoils: float
    short: float


def line_picture(
    line: Line, cases: int, weights: Floats, *, first: date, last: date
) -> tuple[DayPicture, ...]:
    """From ``first`` to ``last``, both included, with ``cases`` of the line's offer arriving on
    its delivery day. ``weights`` (P,)."""
    lots, new = line.lots.with_arrival(line.window.start, line.window.start_hour, line.last_day)
    qty = lots.qty.copy()
    qty[new] = cases * line.offer.pack_base
    left = np.repeat(qty[:, None], len(weights), axis=1)
    return tuple(_days(line.draws, lots, qty, left, weights, first, last))


def _days(
    draws: Draws, lots: Lots, qty: Floats, left: Floats, weights: Floats, first: date, last: date
) -> Iterator[DayPicture]:
    """``left`` (K, P) is what is left of each lot; changed day by day."""
    for day in _dates(first, last):
        drawn = draws.between(day, day)
        after = project(left[None], lots.serving(drawn)[None], drawn.qty[None])
        left = after.left[0]
        over = lots.use_by <= day.toordinal()
        spoils = left[over].sum(axis=0)
        left = np.where(over[:, None], 0.0, left)
        there = left[lots.arrives_on <= day.toordinal()].sum(axis=0)
        low, middle, high = (
            float(quantile(there, weights, level)) for level in (LOW, MIDDLE, HIGH)
        )
        lacking: Bools = (after.short[0] > TOLERANCE).any(axis=0)
        yield DayPicture(
            day=day,
            arrives=float(qty[lots.arrives_on == day.toordinal()].sum()),
            use=float(mean(drawn.qty.sum(axis=0), weights)),
            low=low,
            middle=middle,
            high=high,
            spoils=float(mean(spoils, weights)),
            short=float(chance(lacking, weights)),
        )


def _dates(first: date, last: date) -> Iterator[date]:
    day = first
    while day <= last:
        yield day
        day += ONE_DAY
