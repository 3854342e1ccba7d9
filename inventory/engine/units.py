"""Exact conversion between units: SI, US customary, density, piece weight, own containers.

Factors are fractions, so nothing is lost on the way; a result is rounded once, to nine
places of the base unit. Base units: g, ml and each. oz is weight, floz is volume, gallons are
US gallons of 231 cubic inches (NIST Handbook 44 App. C; NIST SP 811 App. B).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

from inventory.problems import Problem, Refused

_INCH = Fraction("2.54")  # cm, exact
_POUND = Fraction("453.59237")  # g, exact
_GALLON = 231 * _INCH**3  # ml, exact

MASS: Mapping[str, Fraction] = {
    "mg": Fraction(1, 1000),
    "g": Fraction(1),
    "kg": Fraction(1000),
    "oz": _POUND / 16,
    "lb": _POUND,
}
VOLUME: Mapping[str, Fraction] = {
    "ml": Fraction(1),
    "l": Fraction(1000),
    "tsp": _GALLON / 768,
    "tbsp": _GALLON / 256,
    "floz": _GALLON / 128,
    "cup": _GALLON / 16,
    "pt": _GALLON / 8,
    "qt": _GALLON / 4,
    "gal": _GALLON,
}
COUNT: Mapping[str, Fraction] = {"each": Fraction(1), "dozen": Fraction(12)}

_KINDS: Mapping[str, tuple[str, Fraction]] = {
    **{word: ("g", factor) for word, factor in MASS.items()},
    **{word: ("ml", factor) for word, factor in VOLUME.items()},
    **{word: ("each", factor) for word, factor in COUNT.items()},
}
STANDARD_UNITS = frozenset(_KINDS)
_NAMES = {"g": "weight", "ml": "volume", "each": "count"}
_PLACES = Decimal(1).scaleb(-9)
# Digits of a decimal that hold every quantity of the ledger (19) at nine places and more.
_DIGITS = 60


@dataclass(frozen=True, slots=True)
class ItemMeasures:
    """What is known of one item's units.

    ``grams_per_ml`` and ``grams_per_each`` bridge weight, volume and count. ``own``: a word of
    the house's own is so many of another unit; ``case`` is one of them where an offer gives
    it a size.
    """

    name: str
    unit: str
    grams_per_ml: Fraction | None = None
    grams_per_each: Fraction | None = None
    own: Mapping[str, tuple[Fraction, str]] = field(default_factory=dict)

    @property
    def base(self) -> str:
        """g, ml or each."""
        return _resolved(self, self.unit)[0]

    def per(self, unit: str) -> Fraction:
        """Base units in one ``unit``. Raises ``Refused`` where no way leads there."""
        kind, factor = _resolved(self, unit)
        base = self.base
        return factor if kind == base else factor * self._bridge(kind, base, unit)

    def _bridge(self, kind: str, base: str, unit: str) -> Fraction:
        grams = {"g": Fraction(1), "ml": self.grams_per_ml, "each": self.grams_per_each}
        source, target = grams[kind], grams[base]
        if source is None:
            raise Refused(self._no_way(kind, unit))
        if target is None:
            raise Refused(self._no_way(base, unit))
        return source / target

    def _no_way(self, missing: str, unit: str) -> Problem:
        need = "grams_per_ml" if missing == "ml" else "grams_per_each"
        what = "a density" if missing == "ml" else "the weight of one"
        return Problem(
            "no_conversion",
            f"{self.name} is kept in {self.unit} ({_NAMES[self.base]}), and '{unit}' cannot be "
            f"turned into that without {what}. Fill in {need} of the item, or use a unit of "
            f"{_NAMES[self.base]}.",
            "unit",
            {"unit": unit, "base": self.base, "needs": need},
        )


def _resolved(measures: ItemMeasures, unit: str) -> tuple[str, Fraction]:
    """Kind (by its base unit) and factor of a word, house units followed to the end."""
    factor, word, seen = Fraction(1), unit, [unit]
    while word not in _KINDS:
        if word not in measures.own:
            raise Refused(_unknown(measures, word))
        many, word = measures.own[word]
        factor *= many
        if word in seen:
            raise Refused(_circular(measures, [*seen, word]))
        seen.append(word)
    kind, base_factor = _KINDS[word]
    return kind, factor * base_factor


def _unknown(measures: ItemMeasures, word: str) -> Problem:
    known = " ".join([*_KINDS, *sorted(measures.own)])
    if word == "case":
        message = (
            f"{measures.name} has no case size. Add one to a supplier's offer of it, or use "
            f"another unit: {known}."
        )
    else:
        message = (
            f"'{word}' is not a unit of {measures.name}. Use one of: {known}; or add '{word}' "
            "to item_units."
        )
    return Problem("unknown_unit", message, "unit", {"unit": word})


def _circular(measures: ItemMeasures, words: list[str]) -> Problem:
    return Problem(
        "unit_cycle",
        f"The units of {measures.name} go round in a circle: {' = '.join(words)}. Say one of "
        "them in a standard unit such as g, ml or each.",
        "unit",
    )


def in_base(measures: ItemMeasures, qty: Decimal, unit: str) -> Decimal:
    """``qty`` in the item's base unit, rounded once to nine places."""
    return as_decimal(Fraction(qty) * measures.per(unit))


def in_unit(measures: ItemMeasures, base_qty: Decimal, unit: str) -> Decimal:
    """A quantity of base units, in ``unit``, rounded once to nine places."""
    return as_decimal(Fraction(base_qty) / measures.per(unit))


def convert(qty: Fraction | Decimal | int, unit: str, to: str) -> Fraction:
    """Between two standard units of one kind, exactly."""
    plain = ItemMeasures("This", to)
    return Fraction(qty) * plain.per(unit) / plain.per(to)


@lru_cache(maxsize=4096)
def as_decimal(value: Fraction) -> Decimal:
    """A fraction as a decimal of nine places, half up."""
    with localcontext() as context:
        context.prec = _DIGITS
        quotient = Decimal(value.numerator) / Decimal(value.denominator)
        return quotient.quantize(_PLACES, rounding=ROUND_HALF_UP)


def celsius(fahrenheit: Fraction | Decimal | int) -> Fraction:
    """C = (F - 32) x 5/9, exactly. Limits are judged in the unit that was read."""
    return (Fraction(fahrenheit) - 32) * Fraction(5, 9)
