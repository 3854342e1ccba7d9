"""A chunk of order lines projected: what they draw, what is there on the delivery day, and
what happens with any quantity ordered (R6).

I lines, up to J draws and K lots each (padded with nothing), P paths. Days are proleptic
ordinals. Everything before D1 is projected once; the order changes only what comes after.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from inventory.engine.draws import Draws
from inventory.engine.kitchen import TOLERANCE
from inventory.engine.projection import (
    UNDATED,
    Bools,
    Days,
    Floats,
    Lots,
    Projected,
    project,
    stocks_at_once,
)
from inventory.engine.weighted import mean
from purchasing.engine.lines import Line

ONE_DAY = timedelta(days=1)
RATE_DAYS = 14  # usage beyond the days known goes on as on this many last ones


@dataclass(frozen=True, slots=True)
class Stretch:
    """Draws of I lines. ``qty`` (I, J, P); ``serves`` (I, J, K); ``day`` (I, J); ``before``,
    ``window``, ``reach`` (I, J): too early for this delivery, to be carried by it, and of
    these the draws whose day of use its new lot still serves (R9)."""

    qty: Floats
    serves: Bools
    day: Days
    before: Bools
    window: Bools
    reach: Bools

    def part(self, rows: npt.NDArray[np.intp]) -> Stretch:
        """Of some of the lines only."""
        return Stretch(*(getattr(self, one.name)[rows] for one in fields(self)))

    @property
    def beyond_reach(self) -> Bools:
        """(I, J) draws of the window, on any path, that no lot of this delivery serves."""
        beyond = self.window & ~self.reach
        beyond[beyond] = self.qty[beyond].any(axis=1)
        return beyond

    def is_short(self, projected: Projected, which: Bools) -> Bools:
        """(I, P) paths on which any draw of ``which`` (I, J) is short; less than 10^-6 is
        nothing (R6)."""
        short = np.zeros((self.qty.shape[0], self.qty.shape[2]), dtype=np.bool_)
        for j in columns_of(which):
            short |= (projected.short[:, j] > TOLERANCE) & which[:, j, None]
        return short

    def total(self, qty: Floats, which: Bools) -> Floats:
        """(I, P) sum of ``qty`` (I, J, P) over the draws of ``which``, one after the other."""
        sums = np.zeros((qty.shape[0], qty.shape[2]))
        for j in columns_of(which):
            sums += np.where(which[:, j, None], qty[:, j], 0.0)
        return sums

    def total_lacking(self, projected: Projected, which: Bools) -> Floats:
        """(I, P) what the draws of ``which`` are short of, one after the other."""
        sums = np.zeros((self.qty.shape[0], self.qty.shape[2]))
        for j in columns_of(which):
            short = projected.short[:, j]
            sums += np.where((short > TOLERANCE) & which[:, j, None], short, 0.0)
        return sums


def columns_of(which: Bools) -> list[int]:
    """Which draws are asked for of any line: ``which`` (I, J). The others need no work."""
    return [int(j) for j in np.flatnonzero(which.any(axis=0))]


@dataclass(frozen=True, slots=True)
class Outlook:
    """``use_by``, ``arrives_on`` (I, K) of the lots, ``new`` (I,) which of them is the order;
    ``opening`` (I, K, P) what is left of each at the start of D1; ``unmet`` what was short
    until then; ``without`` from then on with nothing ordered."""

    lines: Sequence[Line]
    weights: Floats
    use_by: Days
    arrives_on: Days
    new: npt.NDArray[np.intp]
    early: Stretch
    late: Stretch
    unmet: Projected
    without: Projected

    @classmethod
    def of(cls, lines: Sequence[Line], weights: Floats) -> Outlook:
        placed = [_with_new_lot(line) for line in lines]
        lots = [each for each, _ in placed]
        early = _stretch(lines, lots, [_until_delivery(line) for line in lines])
        late = _stretch(lines, lots, [_from_delivery(line) for line in lines])
        unmet = project(padded([each.qty for each in lots], 0.0), early.serves, early.qty)
        return cls(
            lines=lines,
            weights=weights,
            use_by=padded([each.use_by for each in lots], UNDATED),
            arrives_on=padded([each.arrives_on for each in lots], UNDATED),
            new=np.array([new for _, new in placed], dtype=np.intp),
            early=early,
            late=late,
            unmet=unmet,
            without=project(unmet.left, late.serves, late.qty),
        )

    def part(self, rows: npt.NDArray[np.intp]) -> Outlook:
        """Of some of the lines only."""
        return Outlook(
            lines=[self.lines[row] for row in rows.tolist()],
            weights=self.weights,
            use_by=self.use_by[rows],
            arrives_on=self.arrives_on[rows],
            new=self.new[rows],
            early=self.early.part(rows),
            late=self.late.part(rows),
            unmet=Projected(self.unmet.short[rows], self.unmet.left[rows]),
            without=Projected(self.without.short[rows], self.without.left[rows]),
        )

    def with_order(self, qty: Floats) -> Projected:
        """From D1 on with ``qty`` (I,) or (I, P) base units ordered."""
        lots = self.unmet.left.copy()
        rows = np.arange(len(self.lines))
        lots[rows, self.new] = qty if qty.ndim == 2 else qty[:, None]
        return project(lots, self.late.serves, self.late.qty)

    def have(self) -> Floats:
        """(I,) mean usable stock at the start of D1, with what is due that day, before any
        usage of D1 (R8)."""
        first = np.array([line.window.start.toordinal() for line in self.lines])[:, None]
        usable = (self.use_by >= first) & (self.arrives_on <= first)
        return mean(self._over_lots(self.unmet.left, usable), self.weights)

    def spoiled(self) -> Floats:
        """(I, P) of the lots present and on order, what reaches its use-by unused before D2
        if nothing is ordered."""
        end = np.array([line.window.end.toordinal() for line in self.lines])[:, None]
        return self._over_lots(self.without.left, self.use_by < end)

    def left_of_order(self, projected: Projected) -> Floats:
        """(I, P) what is left of the new lot at the end of its use-by day; 0 if undated."""
        rows = np.arange(len(self.lines))
        left = projected.left[rows, self.new]
        undated = np.array([line.last_day is None for line in self.lines])
        return np.where(undated[:, None], 0.0, left - self._used_later(projected, left))

    def _used_later(self, projected: Projected, left: Floats) -> Floats:
        """(I, P) how much of the new lot is used between the last day known and its use-by:
        usage goes on as on the last days known, older lots first (own assumption)."""
        days = _days_beyond(self.lines)[:, None]
        if not days.any():
            return np.zeros_like(left)
        known = np.take_along_axis(self.use_by, self.new[:, None], axis=1) - days
        earlier = np.arange(self.use_by.shape[1]) < self.new[:, None]
        older = self._over_lots(projected.left, earlier & (self.use_by > known))
        later = last_rates(self.lines, len(self.weights)) * days
        return np.clip(later - older, 0.0, left)

    def _over_lots(self, left: Floats, which: Bools) -> Floats:
        """(I, P) sum of ``left`` (I, K, P) over the lots of ``which``, one after the other."""
        sums = np.zeros((left.shape[0], left.shape[2]))
        for k in range(left.shape[1]):
            sums += np.where(which[:, k, None], left[:, k], 0.0)
        return sums


def in_chunks(lines: Sequence[Line], weights: Floats) -> Iterator[tuple[list[int], Outlook]]:
    """Positions and outlook of a few lines at a time, lines with like numbers of draws
    together: memory stays low whatever the number of lines."""
    size = stocks_at_once(len(weights))
    order = sorted(range(len(lines)), key=lambda i: (len(lines[i].draws.day), lines[i].key))
    for start in range(0, len(order), size):
        chunk = order[start : start + size]
        yield chunk, Outlook.of([lines[i] for i in chunk], weights)


def _with_new_lot(line: Line) -> tuple[Lots, int]:
    return line.lots.with_arrival(line.window.start, line.window.start_hour, line.last_day)


def _until_delivery(line: Line) -> Draws:
    return line.draws.between(date.min, line.window.start - ONE_DAY)


def _from_delivery(line: Line) -> Draws:
    last = line.window.end if line.last_day is None else max(line.window.end, line.last_day)
    return line.draws.between(line.window.start, last)


def _stretch(lines: Sequence[Line], lots: Sequence[Lots], draws: Sequence[Draws]) -> Stretch:
    window = [line.window.holds(each) for line, each in zip(lines, draws, strict=True)]
    return Stretch(
        qty=padded([each.qty for each in draws], 0.0),
        serves=padded([of.serving(each) for of, each in zip(lots, draws, strict=True)], False),
        day=padded([each.day for each in draws], 0),
        before=padded(
            [line.window.is_before(each) for line, each in zip(lines, draws, strict=True)], False
        ),
        window=padded(window, False),
        reach=padded(
            [
                holds & (each.day_of_use <= _ordinal(line.last_day))
                for line, each, holds in zip(lines, draws, window, strict=True)
            ],
            False,
        ),
    )


Cell = TypeVar("Cell", bound=np.generic)


def padded(parts: Sequence[npt.NDArray[Cell]], fill: Any) -> npt.NDArray[Cell]:
    """Arrays of one number of axes as one, filled up where they are smaller."""
    shape = np.max([part.shape for part in parts], axis=0)
    whole = np.full((len(parts), *shape), fill, dtype=parts[0].dtype)
    for row, part in zip(whole, parts, strict=True):
        row[tuple(slice(length) for length in part.shape)] = part
    return whole


def _ordinal(day: date | None) -> int:
    return UNDATED if day is None else day.toordinal()


def _days_beyond(lines: Sequence[Line]) -> Floats:
    """(I,) days from the last one whose draws are known to the new lot's use-by."""
    return np.array(
        [
            0.0
            if line.known_until is None or line.last_day is None
            else max(0, (line.last_day - line.known_until).days)
            for line in lines
        ]
    )


def last_rates(lines: Sequence[Line], paths: int) -> Floats:
    """(I, P) base units a day over the last days known."""
    rates = np.zeros((len(lines), paths))
    for row, line in zip(rates, lines, strict=True):
        if line.known_until is not None:
            first = line.known_until - timedelta(days=RATE_DAYS - 1)
            row += line.draws.between(first, line.known_until).qty.sum(axis=0) / RATE_DAYS
    return rates
