"""What a forecast may know: the past of every series, and the calendar ahead."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

# Whole numbers up to this mean are counts; anything else is a quantity (own assumption).
LARGEST_COUNT = 2000.0
# Quantities are worked on in a unit that makes a usual day about this much.
USUAL_DAY = 50.0


@dataclass(frozen=True, slots=True)
class SeriesSet:
    """S series of O outlets over D past days and the H days to forecast.

    ``qty`` (S, D): NaN where there is no figure (closed, not on sale, not begun);
    ``sold_out`` (S, D): lower bounds. ``outlet`` (S,) is ascending, 0 ... O - 1. Known ahead,
    over D + H days: ``open_days`` (O, D + H) and ``events`` (O, D + H, G), one layer for each
    kind of event. ``first_ordinal``: proleptic ordinal of
    column 0."""

    qty: Floats
    sold_out: Flags
    outlet: Ints
    open_days: Flags
    events: Flags
    first_ordinal: int

    @property
    def days(self) -> int:
        return int(self.qty.shape[1])

    @property
    def horizon(self) -> int:
        return int(self.open_days.shape[1]) - self.days

    @property
    def outlet_starts(self) -> Ints:
        """First row of each outlet."""
        return np.flatnonzero(np.diff(self.outlet, prepend=-1))

    @property
    def any_event(self) -> Flags:
        """Days (O, D + H) with an event of any kind."""
        return np.asarray(self.events.any(axis=2))

    def weekday(self, column: int) -> int:
        """Monday = 0."""
        return (self.first_ordinal + column - 1) % 7


def units(qty: Floats) -> tuple[Floats, Flags]:
    """Unit (S,) to work in, and which series are counts (S,): whole and not huge.

    Quantities (grams, say) are measured in fiftieths of a usual day of use, so that what is
    forecast does not depend on the unit they are kept in."""
    known = np.isfinite(qty)
    used = np.where(known, qty, 0.0)
    usual = used.sum(axis=1) / np.maximum((used > 0).sum(axis=1), 1)
    whole = (used == np.rint(used)).all(axis=1)
    counts = whole & (usual <= LARGEST_COUNT)
    unit = np.where(counts | (usual <= 0), 1.0, usual / USUAL_DAY)
    return unit, counts
