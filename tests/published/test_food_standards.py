"""Published values of food-standards.md: date marks (1.2), units (4), yields (5), costs (9).

Local code and the licensed person in charge decide; the figures are the model code's.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.engine.dates import Freeze, last_day_by_date_mark, marked_days_used
from inventory.engine.fefo import LotOnHand, pick
from inventory.engine.kitchen import Item
from inventory.engine.recipes import as_purchased, unit_costs
from inventory.engine.units import ItemMeasures, celsius, convert
from inventory.problems import Refused
from tests.inventory.engine.small_kitchens import recipe


def day(text: str) -> date:
    """``03-02`` of 2026, or a whole date."""
    return date.fromisoformat(text if len(text) > 5 else f"2026-{text}")


def frozen(*spells: str) -> list[Freeze]:
    """Such as ``03-04 04-10``: day of freezing, day of thawing."""
    return [Freeze(*(day(text) for text in spell.split())) for spell in spells]


# FDA Food Code 2022, 3-501.17 and 3-501.18: seven days, the first one counted.


@pytest.mark.parametrize(
    ("prepared", "freezes", "last_day"),
    [
        pytest.param("03-02", [], "03-08", id="DM-01"),
        pytest.param("2016-01-01", [], "2016-01-07", id="DM-02"),
        pytest.param("02-26", [], "03-04", id="DM-03 month end"),
        pytest.param("2028-02-26", [], "2028-03-03", id="DM-04 leap year"),
        pytest.param("2025-12-29", [], "2026-01-04", id="DM-05 year end"),
        pytest.param("03-02", ["03-04 04-10"], "04-13", id="DM-09"),
        pytest.param("03-02", ["03-02 04-10"], "04-15", id="DM-10"),
        pytest.param("03-02", ["03-04 03-04"], "03-08", id="DM-11 nothing gained"),
        pytest.param("03-02", ["03-04 03-05"], "03-08", id="DM-12 no whole day"),
        pytest.param("03-02", ["03-08 03-20"], "03-19", id="DM-13 over when thawed"),
        pytest.param("03-02", ["03-03 03-10", "03-11 03-20"], "03-22", id="DM-14 two freezes"),
    ],
)
def test_last_day_of_what_was_prepared(prepared: str, freezes: list[str], last_day: str) -> None:
    assert last_day_by_date_mark(day(prepared), freezes=frozen(*freezes)) == day(last_day)


@pytest.mark.parametrize(
    ("makers_use_by", "last_day"),
    [
        pytest.param("03-05", "03-05", id="DM-06 cap bites"),
        pytest.param("03-20", "03-08", id="DM-07 cap does not bite"),
    ],
)
def test_last_day_of_what_was_opened(makers_use_by: str, last_day: str) -> None:
    capped = last_day_by_date_mark(day("03-02"), maker_use_by=day(makers_use_by))
    assert capped == day(last_day)


def test_dm_08_a_mix_keeps_the_mark_of_its_earliest_component() -> None:
    beef, sauce = (last_day_by_date_mark(day(made)) for made in ("03-02", "03-05"))
    assert last_day_by_date_mark(day("03-05"), components=[beef, sauce]) == day("03-08")


def test_dm_13_is_over_on_the_day_it_is_thawed() -> None:
    assert marked_days_used(day("03-02"), day("03-20"), freezes=frozen("03-08 03-20")) > 7


@pytest.mark.parametrize("typed", [7, 8, 30, None])
def test_dm_15_and_dm_16_no_made_ready_to_eat_food_is_marked_later(typed: int | None) -> None:
    """No date in the system and a mark past the span both come to six days after."""
    made = Item("SOUP", "prep", "g", shelf_life_days=typed, tcs=True, ready_to_eat=True)
    assert made.made_life_days == 6


@pytest.mark.parametrize(
    ("on", "freezes", "used"),
    [
        pytest.param("04-10", ["03-04 04-10"], 4, id="DM-09"),
        pytest.param("04-10", ["03-02 04-10"], 2, id="DM-10"),
        pytest.param("03-08", [], 7, id="DM-01"),
    ],
)
def test_days_used_of_the_seven(on: str, freezes: list[str], used: int) -> None:
    assert marked_days_used(day("03-02"), day(on), freezes=frozen(*freezes)) == used


def test_dm_18_the_clock_stands_while_it_is_frozen() -> None:
    """Three of seven days used, four left, on any day it is still frozen."""
    for today in ("03-20", "04-30"):
        still = [Freeze(day("03-04"))]
        assert marked_days_used(day("03-02"), day(today), freezes=still) == 3


# Exact by definition: NIST Handbook 44 App. C, NIST SP 811 App. B.


@pytest.mark.parametrize(
    ("unit", "exact", "base"),
    [
        ("lb", "453.59237", "g"),
        ("oz", "28.349523125", "g"),
        ("gal", "3785.411784", "ml"),
        ("qt", "946.352946", "ml"),
        ("pt", "473.176473", "ml"),
        ("cup", "236.5882365", "ml"),
        ("floz", "29.5735295625", "ml"),
        ("tbsp", "14.78676478125", "ml"),
        ("tsp", "4.92892159375", "ml"),
    ],
)
def test_a_unit_is_exactly_so_much(unit: str, exact: str, base: str) -> None:
    assert convert(1, unit, base) == Fraction(exact)


@pytest.mark.parametrize(
    ("one", "many", "of"),
    [
        ("lb", 16, "oz"),
        ("gal", 4, "qt"),
        ("gal", 8, "pt"),
        ("gal", 16, "cup"),
        ("gal", 128, "floz"),
        ("cup", 8, "floz"),
        ("cup", 16, "tbsp"),
        ("tbsp", 3, "tsp"),
        ("dozen", 12, "each"),
    ],
)
def test_ratios_are_whole(one: str, many: int, of: str) -> None:
    assert convert(1, one, of) == many


@pytest.mark.parametrize(
    ("qty", "unit", "to", "expected"),
    [
        pytest.param("40", "lb", "kg", "18.1436948", id="UN-01"),
        pytest.param("5", "gal", "l", "18.92705892", id="UN-02"),
        pytest.param("41.25", "lb", "kg", "18.7106852625", id="UN-03"),
    ],
)
def test_conversions(qty: str, unit: str, to: str, expected: str) -> None:
    assert convert(Decimal(qty), unit, to) == Fraction(expected)


@pytest.mark.parametrize(
    ("fahrenheit", "degrees"), [(41, Fraction(5)), (135, Fraction(515, 9)), (0, Fraction(-160, 9))]
)
def test_un_04_degrees(fahrenheit: int, degrees: Fraction) -> None:
    """57.2222... is 515/9 and -17.7777... is -160/9."""
    assert celsius(fahrenheit) == degrees


def test_un_05_volume_is_no_weight_without_a_density() -> None:
    with pytest.raises(Refused, match="without a density"):
        convert(1, "floz", "oz")


def test_un_06_a_thousand_times_there_and_back_is_exactly_one_pound() -> None:
    pound = Fraction(1)
    for _ in range(1000):
        pound = convert(convert(pound, "lb", "oz"), "oz", "lb")
    assert pound == 1


def test_un_07_cups_from_three_units() -> None:
    parts = [convert(3, "qt", "cup"), convert(2, "cup", "cup"), convert(4, "floz", "cup")]
    assert sum(parts) == Fraction("14.5")


def test_un_08_a_case_and_some_loose() -> None:
    item = ItemMeasures(
        "Lentils", "lb", own={"case": (Fraction(6), "bag"), "bag": (Fraction(5), "lb")}
    )
    pounds = (item.per("case") + 3 * item.per("lb")) / item.per("lb")
    assert pounds == 33


def cupful(grams: int, unit: str = "kg") -> ItemMeasures:
    """Density from the weight of a cup (USDA Standard Reference, file WEIGHT)."""
    return ItemMeasures("Food", unit, grams_per_ml=grams / convert(1, "cup", "ml"))


@pytest.mark.parametrize(
    ("grams_per_cup", "qty", "unit", "to", "expected", "digits"),
    [
        pytest.param(218, 1, "gal", "lb", 7.690, 3, id="DN-01 soybean oil"),
        pytest.param(113, 5, "lb", "cup", 20.07, 2, id="DN-02 shredded cheddar"),
        pytest.param(185, 50, "lb", "cup", 122.6, 1, id="DN-03 raw rice"),
    ],
)
def test_weight_per_cup(
    grams_per_cup: int, qty: int, unit: str, to: str, expected: float, digits: int
) -> None:
    food = cupful(grams_per_cup)
    assert round(float(qty * food.per(unit) / food.per(to)), digits) == expected


def test_dn_04_thirty_dozen_eggs_shelled() -> None:
    eggs = ItemMeasures("Eggs", "kg", grams_per_each=Fraction(50))
    assert 30 * eggs.per("dozen") / 1000 == 18


# As-purchased to edible portion: AP = EP / yield (Bakery and Business Math, ch. 25).


@pytest.mark.parametrize(
    ("edible", "yield_share", "bought"),
    [
        pytest.param("10", Fraction("0.90"), 11.11, id="YD-01 onion"),
        pytest.param("3", 1 / Fraction("1.19"), 3.57, id="YD-02 pared cucumber"),
        pytest.param(
            "18.75", Fraction(149) / convert(Fraction(1, 2), "lb", "g"), 28.54, id="YD-04 crumbles"
        ),
        pytest.param(
            "18.75", Fraction(83) / convert(Fraction(1, 4), "lb", "g"), 25.62, id="YD-05 patties"
        ),
    ],
)
def test_what_has_to_be_bought(edible: str, yield_share: Fraction, bought: float) -> None:
    # finer than the nine places that a typed yield has
    percent = Decimal((yield_share * 100).numerator) / Decimal((yield_share * 100).denominator)
    assert round(float(as_purchased(Fraction(edible), percent)), 2) == bought


def test_yd_03_cost_of_the_edible_portion() -> None:
    """$0.90 a pound as purchased, of which 90 % is used."""
    assert as_purchased(Fraction("0.90"), Decimal(90)) == 1


def test_yd_06_eggs_in_their_shells() -> None:
    shelled = 12 * Fraction(50)
    ounces = convert(as_purchased(shelled, Decimal(88)), "g", "oz")
    assert round(float(ounces), 2) == 24.05


@pytest.mark.parametrize("percent", ["0", "-10"], ids=["YD-07 nothing", "YD-07 negative"])
def test_a_yield_of_nothing_is_refused(percent: str) -> None:
    with pytest.raises(Refused, match="Type the usable share"):
        as_purchased(Fraction(1), Decimal(percent))


@pytest.mark.parametrize("percent", ["261", "173.5"], ids=["YD-07 rice", "YD-07 beans"])
def test_a_cooking_gain_is_allowed(percent: str) -> None:
    assert as_purchased(Fraction(1), Decimal(percent)) < 1


# Trade arithmetic: standard portion cost = recipe cost / portions (HMD 329, ch. 7).

OUNCE = float(convert(1, "oz", "g"))
POUND = float(convert(1, "lb", "g"))


def plate_costs() -> dict[str, float | None]:
    """TA-10: a filled flatbread of beef, two breads, onion and parsley."""
    filled = recipe(
        "FILLED",
        1,
        {
            "BEEF": 2 * OUNCE / 0.657,
            "BREAD": 2,
            "ONION": 0.5 * OUNCE / 0.90,
            "PARSLEY": 0.1 * OUNCE / 0.95,
        },
    )
    cooked = recipe("COOKED", 2 * OUNCE, {"BEEF": 2 * OUNCE / 0.657})
    bought = {
        "BEEF": 2.49 / POUND,
        "BREAD": 0.06,
        "ONION": 0.90 / POUND,
        "PARSLEY": 4.00 / POUND,
    }
    return unit_costs({one.makes: one for one in (filled, cooked)}, bought)


def test_ta_09_cost_of_cooked_beef() -> None:
    per_gram = plate_costs()["COOKED"]
    assert per_gram is not None
    assert per_gram * POUND == pytest.approx(3.7900, abs=5e-5)
    assert per_gram * 2 * OUNCE == pytest.approx(0.4737, abs=5e-5)


def test_ta_10_plate_cost() -> None:
    assert plate_costs()["FILLED"] == pytest.approx(0.651310, abs=5e-7)


def test_ta_11_share_of_the_menu_price() -> None:
    plate = plate_costs()["FILLED"]
    assert plate is not None
    assert plate / 3.50 == pytest.approx(0.1861, abs=5e-5)
    assert plate / 0.30 == pytest.approx(2.17, abs=5e-3)


def test_ta_13_first_in_first_out_cost() -> None:
    """10 at $2.00 and 10 at $2.60, 12 used: cost $25.20, 8 left worth $20.80."""
    costs = {"R1": Decimal("2.00"), "R2": Decimal("2.60")}
    lots = [
        LotOnHand(strip, Decimal(10), None, date(2026, 3, number), strip)
        for number, strip in enumerate(costs, 1)
    ]
    picks = pick(lots, Decimal(12), date(2026, 3, 5)).picks
    used = sum(costs[str(one.key)] * one.qty for one in picks)
    whole = sum(costs[lot.strip] * lot.qty for lot in lots)
    assert (used, whole - used) == (Decimal("25.20"), Decimal("20.80"))
