"""Stock of one item at one place while it is planned with, on every path at once.

First expired first; among equal use-by dates quantities are interchangeable here, so lots
with one use-by are kept as one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, time

import numpy as np
import numpy.typing as npt

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import Coming, Instant, StockLot

Floats = npt.NDArray[np.float64]

ALWAYS: Instant = -(2**62)
UNDATED = date.max


@dataclass(slots=True)
class Shelf:
    """Quantities (P,) in base units by (use-by, from which moment it is there)."""

    paths: int
    lots: dict[tuple[date, Instant], Floats] = field(default_factory=dict)

    @classmethod
    def holding(
        cls,
        paths: int,
        lots: Iterable[StockLot],
        coming: Iterable[Coming],
        clock: BusinessClock,
    ) -> Shelf:
        """What is there, and what will be: an arrival without an hour comes first thing."""
        shelf = cls(paths)
        for lot in sorted(lots, key=lambda lot: (lot.strip, lot.qty)):
            shelf.add(np.full(paths, lot.qty), lot.use_by)
        for one in sorted(coming, key=lambda one: (one.reference, one.qty)):
            arrives = clock.instant(one.day, one.arrives or time.min)
            shelf.add(np.full(paths, one.qty), one.use_by, arrives)
        return shelf

    def add(self, qty: Floats, use_by: date | None, since: Instant = ALWAYS) -> None:
        key = (UNDATED if use_by is None else use_by, since)
        self.lots[key] = self.lots[key] + qty if key in self.lots else qty

    def usable(self, day: date, moment: Instant) -> Floats:
        """Quantity (P,) there at ``moment`` with a use-by on ``day`` or later."""
        return self._sum(
            qty for (use_by, since), qty in self.lots.items() if use_by >= day and since <= moment
        )

    def draw(self, want: Floats, day: date, moment: Instant) -> Floats:
        """Take ``want`` (P,) from what is usable on ``day``; returns what is not covered."""
        left = want
        for key in sorted(self.lots):
            use_by, since = key
            if use_by < day or since > moment:
                continue
            taken = np.minimum(self.lots[key], left)
            self.lots[key] = self.lots[key] - taken
            left = left - taken
        return left

    def total(self) -> Floats:
        return self._sum(self.lots.values())

    def _sum(self, parts: Iterable[Floats]) -> Floats:
        return sum(parts, np.zeros(self.paths))

    def discard(self, moment: Instant) -> None:
        """Throw away everything that is there at ``moment``."""
        self.lots = {key: qty for key, qty in self.lots.items() if key[1] > moment}
