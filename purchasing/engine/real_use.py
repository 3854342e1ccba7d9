"""What was really used of the goods a place buys, from what was sold and used (replay).

One level deep: what supplied places use counts where it is bought, and what a made item or a
dish takes counts on the day of the sale. Quantities are exact, in base units.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from inventory.engine.sourcing import Sourcing

Pair = tuple[str, str]  # place, item
Takes = Mapping[str, tuple[tuple[str, Fraction], ...]]


@dataclass(frozen=True, slots=True)
class UseRow:
    """``qty`` base units of ``item`` sold or used at ``place`` on ``day``."""

    place: str
    item: str
    day: date
    qty: Fraction


@dataclass(slots=True)
class RealUse:
    """``takes``: what one base unit of a made item or dish draws, line by line. ``total`` by
    pair that buys and day; ``through`` the same by what was sold or used, and where."""

    sourcing: Sourcing
    takes: Takes
    total: dict[Pair, dict[date, Fraction]] = field(default_factory=dict)
    through: dict[Pair, dict[date, dict[Pair, Fraction]]] = field(default_factory=dict)
    _known: dict[Pair, dict[Pair, Fraction]] = field(default_factory=dict)

    def add(self, rows: Iterable[UseRow]) -> RealUse:
        for row in rows:
            for pair, each in self.bought_for(row.place, row.item).items():
                by_day = self.total.setdefault(pair, {})
                by_day[row.day] = by_day.get(row.day, Fraction(0)) + each * row.qty
                sold = self.through.setdefault(pair, {}).setdefault(row.day, {})
                whence = row.place, row.item
                sold[whence] = sold.get(whence, Fraction(0)) + each * row.qty
        return self

    def bought_for(self, place: str, item: str) -> dict[Pair, Fraction]:
        """Base units of what is bought, and where, for one base unit used at ``place``. Dishes
        are put together there; a made item takes its goods where it is made."""
        key = place, item
        if key not in self._known:
            self._known[key] = self._opened(place, item)
        return self._known[key]

    def _opened(self, place: str, item: str) -> dict[Pair, Fraction]:
        lines = self.takes.get(item)
        if lines is None:
            return {(self.sourcing.origin(place, item), item): Fraction(1)}
        if self.sourcing.is_made(item):
            place = self.sourcing.origin(place, item)
        found: dict[Pair, Fraction] = defaultdict(Fraction)
        for below, qty in lines:
            for pair, each in self.bought_for(place, below).items():
                found[pair] += qty * each
        return dict(found)
