"""Seeded dice in the words of a workbook: days, hours, amounts, units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction
from random import Random
from typing import TypeVar

from tests.oracle.cells import WEEKDAYS
from tests.oracle.measures import Measure

Choice = TypeVar("Choice")

# Each zone with days on or before which its clocks change, so that both nights are met.
ZONES = {
    "Europe/Vienna": ("2026-03-29", "2026-10-25"),
    "America/Chicago": ("2026-03-08", "2026-11-01"),
    "Australia/Sydney": ("2026-04-05", "2026-10-04"),
    "America/St_Johns": ("2026-03-08", "2026-11-01"),
    "Asia/Tokyo": (),
    "UTC": (),
}
USUAL_UNITS = {
    "g": ("kg", "lb", "oz", "g"),
    "ml": ("l", "gal", "qt", "cup", "pt", "floz", "ml"),
    "each": ("each", "dozen"),
}


@dataclass(slots=True)
class Dice:
    seed: str
    random: Random = field(init=False)

    def __post_init__(self) -> None:
        self.random = Random(self.seed)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def pick(self, choices: Sequence[Choice]) -> Choice:
        return self.random.choice(choices)

    def whole(self, low: int, high: int) -> int:
        return self.random.randint(low, high)

    def between(self, low: float, high: float) -> float:
        return self.random.uniform(low, high)

    def some(self, choices: Sequence[Choice], low: int, high: int) -> list[Choice]:
        return self.random.sample(choices, min(len(choices), self.whole(low, high)))

    def maybe(self, share: float, value: str) -> str:
        return value if self.chance(share) else ""

    def weekdays(self, low: int = 1, high: int = 7) -> str:
        chosen = self.some(WEEKDAYS, low, high)
        return ";".join(day for day in WEEKDAYS if day in chosen)

    def zone_and_day(self) -> tuple[str, date]:
        """A zone and a first day, often in the week before its clocks change."""
        zone = self.pick(list(ZONES))
        if ZONES[zone] and self.chance(0.4):
            change = date.fromisoformat(self.pick(ZONES[zone]))
            return zone, change - timedelta(days=self.whole(0, 6))
        return zone, date(2026, 1, 5) + timedelta(days=self.whole(0, 330))

    def amount(self, measure: Measure, base_qty: float, unit: str) -> str:
        """``base_qty`` in ``unit``, rounded to what a person would type; never nothing."""
        in_unit = base_qty / float(measure.to_base(Fraction(1), unit))
        places = 0 if in_unit >= 200 else 1 if in_unit >= 20 else 2 if in_unit >= 1 else 3
        rounded = round(in_unit, places)
        return f"{max(rounded, 0.001):.{places if rounded else 3}f}"

    def unit(self, measure: Measure, *, words: bool = True) -> str:
        """One of the units in which this item may be given."""
        units = list(USUAL_UNITS[measure.base])
        for base, factor in (("ml", measure.grams_per_ml), ("each", measure.grams_per_each)):
            if factor is not None:
                units += USUAL_UNITS[base] if measure.base == "g" else USUAL_UNITS["g"]
        if words:
            units += [word for word in measure.own for _ in range(3)]
        return self.pick(units)


def on(day: date, ahead: int) -> str:
    return (day + timedelta(days=ahead)).isoformat()


def size_of(measure: Measure, dice: Dice) -> float:
    """A case of everyday size in base units."""
    return dice.between(6, 200) if measure.base == "each" else dice.between(500, 20_000)
