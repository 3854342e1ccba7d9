"""Units as exact fractions, written down again from their definitions.

Pound and ounce: the international avoirdupois pound is 453.59237 g. Volumes: the US gallon is
231 cubic inches and the inch 2.54 cm (NIST Handbook 44, appendix C).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from tests.oracle.cells import Row, number, text

POUND = Fraction("453.59237")
GALLON = 231 * Fraction("2.54") ** 3

MASS = {
    "mg": Fraction(1, 1000),
    "g": Fraction(1),
    "kg": Fraction(1000),
    "lb": POUND,
    "oz": POUND / 16,
}
VOLUME = {
    "ml": Fraction(1),
    "l": Fraction(1000),
    "gal": GALLON,
    "qt": GALLON / 4,
    "pt": GALLON / 8,
    "cup": GALLON / 16,
    "floz": GALLON / 128,
    "tbsp": GALLON / 256,
    "tsp": GALLON / 768,
}
PIECES = {"each": Fraction(1), "dozen": Fraction(12)}
TABLE = {"g": MASS, "ml": VOLUME, "each": PIECES}


@dataclass(frozen=True, slots=True)
class Measure:
    """How one item is measured. ``own`` are the house's words: word -> (qty, unit)."""

    unit: str
    grams_per_ml: Fraction | None = None
    grams_per_each: Fraction | None = None
    own: dict[str, tuple[Fraction, str]] = field(default_factory=dict)

    @property
    def base(self) -> str:
        return self._resolve(Fraction(1), self.unit)[1]

    def to_base(self, qty: Fraction, unit: str) -> Fraction:
        amount, base = self._resolve(qty, unit)
        if base == self.base:
            return amount
        return self._from_grams(self._to_grams(amount, base))

    def in_unit(self, amount: Fraction) -> Fraction:
        """A base quantity in the item's own unit."""
        return amount / self.to_base(Fraction(1), self.unit)

    def _resolve(self, qty: Fraction, unit: str) -> tuple[Fraction, str]:
        while unit in self.own:
            size, unit_of = self.own[unit]
            qty, unit = qty * size, unit_of
        for base, table in TABLE.items():
            if unit in table:
                return qty * table[unit], base
        raise ValueError(f"no such unit: {unit}")

    def _to_grams(self, amount: Fraction, base: str) -> Fraction:
        if base == "g":
            return amount
        factor = self.grams_per_ml if base == "ml" else self.grams_per_each
        if factor is None:
            raise ValueError("a density or a piece weight is missing")
        return amount * factor

    def _from_grams(self, grams: Fraction) -> Fraction:
        if self.base == "g":
            return grams
        factor = self.grams_per_ml if self.base == "ml" else self.grams_per_each
        if factor is None:
            raise ValueError("a density or a piece weight is missing")
        return grams / factor


def measure_of(row: Row, unit_rows: list[Row]) -> Measure:
    own = {
        text(unit_row, "unit"): (Fraction(text(unit_row, "qty")), text(unit_row, "of_unit"))
        for unit_row in unit_rows
        if text(unit_row, "item") == text(row, "code")
    }
    return Measure(
        text(row, "unit"), number(row, "grams_per_ml"), number(row, "grams_per_each"), own
    )
