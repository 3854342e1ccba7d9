"""What will be drawn from one stock, in the order of one day (R6)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import numpy.typing as npt

from inventory.engine.kitchen import Instant

NO_HOUR: Final = -1

Floats = npt.NDArray[np.float64]
# Moment (or NO_HOUR), the business date on which the draw counts, its day of use.
DrawKey = tuple[Instant, date, date]


@dataclass(frozen=True, slots=True)
class Draws:
    """J draws on P paths, sorted by ``day``, then timed before untimed, ``moment``,
    ``day_of_use``.

    ``moment`` (J,) int64 seconds UTC or NO_HOUR; ``day`` (J,) int32 the proleptic ordinal of
    the business date on which the draw counts; ``day_of_use`` (J,) int32: a lot serves the
    draw if its use-by is on or after it; ``qty`` (J, P) float64 base units, not negative.
    """

    moment: npt.NDArray[np.int64]
    day: npt.NDArray[np.int32]
    day_of_use: npt.NDArray[np.int32]
    qty: Floats

    @classmethod
    def of(cls, qty_by_key: Mapping[DrawKey, Floats]) -> Draws:
        """From quantities (P,) by key, in any order."""
        keys = sorted(qty_by_key, key=_place_in_day)
        return cls(
            np.array([moment for moment, _, _ in keys], dtype=np.int64),
            np.array([day.toordinal() for _, day, _ in keys], dtype=np.int32),
            np.array([use.toordinal() for _, _, use in keys], dtype=np.int32),
            np.array([qty_by_key[key] for key in keys], dtype=np.float64),
        )

    @classmethod
    def merged(cls, parts: Iterable[tuple[DrawKey, Floats]]) -> Draws:
        """From unsorted parts; quantities with equal keys are added in the given order."""
        sums: dict[DrawKey, Floats] = {}
        for key, qty in parts:
            sums[key] = sums[key] + qty if key in sums else qty
        return cls.of(sums)

    @classmethod
    def none(cls, paths: int) -> Draws:
        """No draw at all on ``paths`` paths."""
        empty = np.empty(0, dtype=np.int32)
        return cls(np.empty(0, dtype=np.int64), empty, empty, np.zeros((0, paths)))

    def between(self, first: date, last: date) -> Draws:
        """The draws that count from ``first`` to ``last``, both included."""
        start = np.searchsorted(self.day, first.toordinal(), side="left")
        stop = np.searchsorted(self.day, last.toordinal(), side="right")
        part = slice(int(start), int(stop))
        return Draws(self.moment[part], self.day[part], self.day_of_use[part], self.qty[part])

    @property
    def timed(self) -> npt.NDArray[np.bool_]:
        """(J,) whether the draw has an hour."""
        return np.asarray(self.moment != NO_HOUR)


def _place_in_day(key: DrawKey) -> tuple[date, bool, Instant, date]:
    moment, day, day_of_use = key
    return day, moment == NO_HOUR, moment, day_of_use
