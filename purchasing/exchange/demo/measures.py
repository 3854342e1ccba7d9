"""What the scenario's own arithmetic needs of units: enough to know how fast things go."""

from __future__ import annotations

from dataclasses import dataclass

from purchasing.exchange.demo.cards import Card
from purchasing.exchange.demo.table import Row

# Base units g and ml; exact by definition (NIST Handbook 44, appendix C).
_MASS = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
_VOLUME = {
    "ml": 1.0,
    "l": 1000.0,
    "floz": 29.5735295625,
    "cup": 236.5882365,
    "qt": 946.352946,
    "gal": 3785.411784,
}


@dataclass(frozen=True, slots=True)
class Measures:
    """Units of every item: its own, weights, volumes, pieces and words of the house's own."""

    items: dict[str, Row]
    words: dict[tuple[str, str], tuple[float, str]]

    @classmethod
    def of(cls, items: list[Row], words: list[Row]) -> Measures:
        own = {(w["item"], w["unit"]): (float(w["qty"]), w["of_unit"]) for w in words}
        return cls({item["code"]: item for item in items}, own)

    def own(self, code: str, qty: float, unit: str) -> float:
        """``qty`` in the item's own unit."""
        return self.base(code, qty, unit) / self.base(code, 1.0, self.items[code]["unit"])

    def base(self, code: str, qty: float, unit: str) -> float:
        """``qty`` in g, ml or each, whichever the item is kept in."""
        if (code, unit) in self.words:
            size, of_unit = self.words[code, unit]
            return self.base(code, qty * size, of_unit)
        item = self.items[code]
        kind, factor = _kind(unit)
        kept, _ = _kind(item["unit"])
        if kind == kept:
            return qty * factor
        if {kind, kept} == {"mass", "volume"}:
            grams_per_ml = float(item["grams_per_ml"])
            return qty * factor * (grams_per_ml if kept == "mass" else 1 / grams_per_ml)
        grams_per_each = float(item["grams_per_each"])
        return qty * factor * (grams_per_each if kept == "mass" else 1 / grams_per_each)

    def lines(self, card: Card) -> dict[str, float]:
        """Base units drawn of each thing for one base unit made."""
        made = self.base(card.item, card.makes, card.unit)
        return {
            line.item: self.base(line.item, line.drawn, line.unit) / made for line in card.lines
        }


def _kind(unit: str) -> tuple[str, float]:
    if unit in _MASS:
        return "mass", _MASS[unit]
    if unit in _VOLUME:
        return "volume", _VOLUME[unit]
    if unit == "each":
        return "piece", 1.0
    raise ValueError(f"no such unit: {unit}")
