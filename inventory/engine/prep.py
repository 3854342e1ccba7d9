"""Prep runs of one item: needs to batches within limits to latest starts (R12, 5 and 6).

Everything is worked out on all paths at once. Where the first need that stock does not
cover differs over paths, so do the starts: each such group of paths is scheduled once. The
last batch of a run is placed first, so runs of two and of five batches share their starts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

import numpy as np
import numpy.typing as npt

from inventory.engine.hours import HOUR, WorkHours
from inventory.engine.kitchen import TOLERANCE, Instant, Recipe
from inventory.engine.shelf import Shelf

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

# A need's moment and its day of use; in this order they draw on stock and batches.
NeedKey = tuple[Instant, date]
Needs = Mapping[NeedKey, Floats]


@dataclass(frozen=True, slots=True)
class PlannedBatch:
    """What starts at one moment: ``qty`` (P,) base units, 0 on paths without it.

    ``late``: it should have started before ``as_of``. ``lasts``: it is within its use-by on
    every day of use of its run. ``day`` is the business date of ``start``.
    """

    start: Instant
    day: date
    qty: Floats
    late: bool
    lasts: bool


@dataclass(frozen=True, slots=True)
class PrepRun:
    """All needs of an item with one prep day. (P,) each: ``needed`` in all, ``net`` of
    stock, ``made``, ``batches``; made - net is left for later prep days."""

    place: str
    item: str
    prep_day: date
    needed: Floats
    net: Floats
    made: Floats
    batches: Counts
    starts: tuple[PlannedBatch, ...]

    @property
    def left(self) -> Floats:
        return np.maximum(self.made - self.net, 0.0)

    @property
    def late(self) -> bool:
        return any(batch.late for batch in self.starts)

    @property
    def does_not_last(self) -> bool:
        return any(not batch.lasts for batch in self.starts)


@dataclass(frozen=True, slots=True)
class _Start:
    """``back``: which batch of its run, counted from the last. ``rest``: all batches before
    it start then as well."""

    back: int
    moment: Instant
    day: date
    late: bool
    rest: bool


def batch_count(net: Floats, largest: float | None) -> Counts:
    """Batches (P,) for ``net`` (P,) base units; less than the tolerance is nothing."""
    if largest is None:
        return (net > TOLERANCE).astype(np.int64)
    return np.ceil(np.maximum(net - TOLERANCE, 0.0) / largest).astype(np.int64)


def quantity_made(net: Floats, count: Counts, smallest: float | None) -> Floats:
    """What ``count`` batches make (P,): the net need, or as many smallest batches."""
    return np.where(count > 0, np.maximum(net, count * (smallest or 0.0)), 0.0)


def made_up_to(made: Floats, count: Counts, back: int, recipe: Recipe) -> Floats:
    """Made (P,) by a run's batches up to the one ``back`` places before its last.

    Full batches first and none below the smallest (R12.5c): each takes min(largest, what
    is left - smallest x batches after it), which adds up to the lesser of as many largest
    batches and what leaves a smallest one for each that follows.
    """
    place = np.maximum(count - back, 0)
    largest = made if recipe.batch_max is None else np.full(len(made), recipe.batch_max)
    kept_back = (recipe.batch_min or 0.0) * np.minimum(back, count)
    return np.asarray(np.minimum(place * largest, made - kept_back))


@dataclass(frozen=True, slots=True)
class PrepTable:
    """Where and how one item is made. ``life_days``: days after the start of a batch on
    which it is still usable, None if it does not expire."""

    recipe: Recipe
    life_days: int | None
    hours: WorkHours

    def prep_day(self, moment: Instant) -> date:
        """The last day a need at ``moment`` can wait for: that of the latest start of one
        batch ready for it; T where that is past (R12.5)."""
        start = self.hours.latest_start(moment - self._hands_off, self.recipe.batch_minutes)
        return self.hours.clock.day_of(self.hours.as_of if start is None else start)

    def plan(self, needs: Needs, stock: Shelf) -> tuple[PrepRun, ...]:
        """Runs in order of prep day. ``stock`` is drawn on and left with what remains."""
        in_order = sorted(needs)
        runs = []
        for day, keys in groupby(in_order, key=lambda key: self.prep_day(key[0])):
            run = self._run(day, list(keys), needs, stock)
            if run is not None:
                runs.append(run)
        return tuple(runs)

    def _run(
        self, day: date, keys: Sequence[NeedKey], needs: Needs, stock: Shelf
    ) -> PrepRun | None:
        missing = np.array([stock.draw(needs[key], key[1], key[0]) for key in keys])
        net = missing.sum(axis=0)
        count = batch_count(net, self.recipe.batch_max)
        if not count.any():
            return None
        made = quantity_made(net, count, self.recipe.batch_min)
        needed = np.sum([needs[key] for key in keys], axis=0)
        starts = self._starts(keys, missing, made, count, stock)
        return PrepRun(
            self.hours.place.code, self.recipe.makes, day, needed, net, made, count, starts
        )

    def _starts(
        self,
        keys: Sequence[NeedKey],
        missing: Floats,
        made: Floats,
        count: Counts,
        stock: Shelf,
    ) -> tuple[PlannedBatch, ...]:
        """Batches by start; puts what is left of each group of paths into ``stock``."""
        left = np.maximum(made - missing.sum(axis=0), 0.0)
        first = _first_missing(missing)
        found: dict[Instant, PlannedBatch] = {}
        for row in np.unique(first[count > 0]):
            group = np.where(first == row, count, 0)
            asks = np.any(missing * group, axis=1).tolist()
            last_use = max(key[1] for key, asked in zip(keys, asks, strict=True) if asked)
            for start in self._latest_starts(keys[row][0], int(group.max())):
                batch = self._batch(start, made, group, last_use)
                found[start.moment] = _merged(found.get(start.moment), batch)
                if start.back == 0:
                    self._put_by(np.where(group > 0, left, 0.0), start.day, stock)
        return tuple(found[moment] for moment in sorted(found))

    def _latest_starts(self, needed_by: Instant, most: int) -> Iterator[_Start]:
        """Starts from a run's last batch back (R12.6). Batches that take no time start
        together, and so do those that should have started before ``as_of``."""
        day_of, minutes = self.hours.clock.day_of, self.recipe.batch_minutes
        limit = needed_by - self._hands_off
        for back in range(most):
            moment = self.hours.latest_start(limit, minutes)
            if moment is None:
                now = self.hours.as_of
                yield _Start(back, now, day_of(now), late=True, rest=True)
                return
            yield _Start(back, moment, day_of(moment), late=False, rest=minutes == 0)
            if minutes == 0:
                return
            limit = moment

    def _batch(self, start: _Start, made: Floats, count: Counts, last_use: date) -> PlannedBatch:
        qty = made_up_to(made, count, start.back, self.recipe)
        if not start.rest:
            qty = qty - made_up_to(made, count, start.back + 1, self.recipe)
        use_by = self._use_by(start.day)
        lasts = use_by is None or use_by >= last_use
        return PlannedBatch(
            start.moment, start.day, np.where(count > start.back, qty, 0.0), start.late, lasts
        )

    def _put_by(self, left: Floats, made_on: date, stock: Shelf) -> None:
        if left.any():
            stock.add(left, self._use_by(made_on))

    def _use_by(self, made_on: date) -> date | None:
        return None if self.life_days is None else made_on + timedelta(days=self.life_days)

    @property
    def _hands_off(self) -> int:
        return round(self.recipe.lead_hours * HOUR)


def _first_missing(missing: Floats) -> Counts:
    """Row (P,) of the first need that stock did not cover in full; crumbs that are nothing
    each but something together fall to the first of them."""
    most = missing.max(axis=0)
    nothing = np.where(most > TOLERANCE, TOLERANCE, most / 2)
    return np.asarray(np.argmax(missing > nothing, axis=0))


def _merged(one: PlannedBatch | None, other: PlannedBatch) -> PlannedBatch:
    if one is None:
        return other
    return PlannedBatch(
        one.start,
        one.day,
        one.qty + other.qty,
        one.late or other.late,
        one.lasts and other.lasts,
    )
