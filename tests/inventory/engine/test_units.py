"""Units: exact both ways, bridged by density and weight of one, and clear refusals."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.engine.units import (
    COUNT,
    MASS,
    STANDARD_UNITS,
    VOLUME,
    ItemMeasures,
    as_decimal,
    convert,
    in_base,
    in_unit,
)
from inventory.problems import Refused

LEEK = ItemMeasures(
    "Leeks",
    "kg",
    grams_per_each=Fraction(180),
    own={"bunch": (Fraction(3), "each"), "crate": (Fraction(12), "bunch")},
)
OIL = ItemMeasures(
    "Rape oil",
    "l",
    grams_per_ml=Fraction("0.92"),
    own={"case": (Fraction(4), "tin"), "tin": (Fraction(5), "l")},
)
BOTH = ItemMeasures("Broth cubes", "each", Fraction("1.25"), Fraction(10))


def refusal(measures: ItemMeasures, unit: str) -> tuple[str, str]:
    with pytest.raises(Refused) as caught:
        measures.per(unit)
    (problem,) = caught.value.problems
    return problem.code, problem.message


@pytest.mark.parametrize(
    ("measures", "unit", "base"),
    [
        (LEEK, "kg", 1000),
        (LEEK, "each", 180),
        (LEEK, "dozen", 2160),
        (LEEK, "bunch", 540),
        (LEEK, "crate", 6480),
        (OIL, "tin", 5000),
        (OIL, "case", 20_000),
        (OIL, "g", Fraction(100, 92)),
        (BOTH, "g", Fraction(1, 10)),
        (BOTH, "ml", Fraction(1, 8)),
    ],
    ids=lambda value: value.name if isinstance(value, ItemMeasures) else str(value),
)
def test_base_units_in_one_unit(measures: ItemMeasures, unit: str, base: Fraction | int) -> None:
    assert measures.per(unit) == base


@pytest.mark.parametrize(("item", "base"), [(LEEK, "g"), (OIL, "ml"), (BOTH, "each")])
def test_the_base_unit_goes_by_the_unit_people_read(item: ItemMeasures, base: str) -> None:
    assert item.base == base


def test_volume_to_weight_without_a_density_says_what_to_fill_in() -> None:
    code, said = refusal(LEEK, "cup")
    assert code == "no_conversion"
    assert "without a density" in said
    assert "Fill in grams_per_ml" in said


def test_count_to_volume_without_the_weight_of_one_says_what_to_fill_in() -> None:
    code, said = refusal(OIL, "each")
    assert code == "no_conversion"
    assert "Fill in grams_per_each" in said


def test_an_unknown_word_lists_those_there_are() -> None:
    code, said = refusal(LEEK, "armful")
    assert code == "unknown_unit"
    assert "bunch crate" in said
    assert "item_units" in said


def test_a_case_without_an_offer_says_where_it_gets_a_size() -> None:
    code, said = refusal(LEEK, "case")
    assert code == "unknown_unit"
    assert "supplier's offer" in said


def test_house_units_in_a_circle_are_named_in_order() -> None:
    own = {"bag": (Fraction(2), "sack"), "sack": (Fraction(3), "bag")}
    code, said = refusal(ItemMeasures("Lentils", "kg", own=own), "bag")
    assert code == "unit_cycle"
    assert "bag = sack = bag" in said


units_of_a_kind = st.sampled_from([MASS, VOLUME, COUNT]).flatmap(
    lambda kind: st.tuples(st.sampled_from(sorted(kind)), st.sampled_from(sorted(kind)))
)
quantities = st.fractions(min_value=0, max_value=10**9)


@given(units_of_a_kind, quantities)
def test_there_and_back_is_exact(pair: tuple[str, str], qty: Fraction) -> None:
    unit, other = pair
    assert convert(convert(qty, unit, other), other, unit) == qty


@given(st.sampled_from(sorted(STANDARD_UNITS)), st.sampled_from(sorted(STANDARD_UNITS)), quantities)
def test_there_and_back_over_every_bridge_is_exact(unit: str, other: str, qty: Fraction) -> None:
    held = ItemMeasures("Lentils", other, Fraction("0.8"), Fraction("0.07"))
    base = qty * held.per(unit)
    assert base / held.per(unit) == qty


@given(st.decimals(min_value=0, max_value=10**6, places=3), st.sampled_from(["kg", "lb", "crate"]))
def test_a_typed_quantity_comes_back_within_the_ledgers_rounding(qty: Decimal, unit: str) -> None:
    back = in_unit(LEEK, in_base(LEEK, qty, unit), unit)
    assert abs(back - qty) <= Decimal("1e-9")


@pytest.mark.parametrize(
    ("value", "rounded"),
    [
        (Fraction(1, 3), "0.333333333"),
        (Fraction(2, 3), "0.666666667"),
        (Fraction(5, 10**10), "0.000000001"),  # half up
        (Fraction(4, 10**10), "0.000000000"),
        (Fraction(9_223_372_036), "9223372036.000000000"),
    ],
)
def test_a_fraction_is_rounded_once_half_up(value: Fraction, rounded: str) -> None:
    assert f"{as_decimal(value):f}" == rounded
