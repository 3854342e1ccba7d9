"""What running out costs (R10), on days that were and on days to come."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from inventory.engine.demand.paths import DemandPaths
from inventory.engine.kitchen import Item
from inventory.engine.sourcing import Sourcing
from purchasing.engine.inputs import Policy, ReorderInputs
from purchasing.engine.margins import shortage_costs
from purchasing.engine.missed import Margins
from purchasing.engine.offers import Choice
from purchasing.engine.real_use import RealUse, UseRow
from purchasing.engine.slots import Slot
from tests.inventory.engine.small_kitchens import booking, kitchen, place, recipe, stop
from tests.purchasing.engine.line_scenes import march, offer

COM, VAN, BAR = place("COM", "commissary"), place("VAN", by="COM"), place("BAR", "kitchen")
ITEMS = [
    Item("BOWL", "menu", "each"),
    Item("WRAP", "menu", "each"),
    Item("STEW", "prep", "g"),
    Item("BEAN", "ingredient", "g"),
    Item("HERB", "ingredient", "g", can_be_left_off=True),
    Item("FIZZ", "resale", "each"),
]
RECIPES = [
    recipe("STEW", 1000, {"BEAN": 500}),
    recipe("BOWL", 1, {"STEW": 300, "HERB": 5}),
    recipe("WRAP", 2, {"STEW": 200}),
]
KITCHEN = kitchen([COM, VAN, BAR], ITEMS, RECIPES)
TAKES = {
    "STEW": (("BEAN", Fraction(1, 2)),),
    "BOWL": (("STEW", Fraction(300)), ("HERB", Fraction(5))),
    "WRAP": (("STEW", Fraction(100)),),
}
COSTS = {"BEAN": Fraction("0.002"), "HERB": Fraction("0.01"), "FIZZ": Fraction(1)}
PRICES = {"BOWL": Fraction(9), "WRAP": Fraction(4), "FIZZ": Fraction(3)}
DAY = march(4)
BEANS = ("COM", "BEAN")
# A bowl: 150 g of beans at 0.30, herbs at 0.05; a wrap: 50 g of beans at 0.10.
PER_GRAM_BOWL, PER_GRAM_WRAP = Fraction("8.65") / 150, Fraction("3.9") / 50


def use(*rows: tuple[str, str, int], day: date = DAY) -> RealUse:
    known = RealUse(Sourcing(KITCHEN, {}), TAKES)
    return known.add(UseRow(place, item, day, Fraction(qty)) for place, item, qty in rows)


def margins(of: RealUse, **more: Any) -> Margins:
    usual: dict[str, Any] = {"price": PRICES, "cost": lambda pair, day: COSTS.get(pair[1])}
    return Margins(left_off=frozenset({"HERB"}), leave_share=Fraction(1, 2), use=of, **usual | more)


def test_what_is_used_counts_where_it_is_bought_on_the_day_of_the_sale() -> None:
    used = use(("VAN", "BOWL", 10), ("BAR", "BOWL", 2), ("COM", "STEW", 100), ("VAN", "FIZZ", 3))
    assert {pair: by_day[DAY] for pair, by_day in used.total.items()} == {
        BEANS: 10 * 150 + 2 * 150 + 50,  # the stew of the bar's bowls is made at the commissary
        ("COM", "HERB"): 50,
        ("BAR", "HERB"): 10,
        ("COM", "FIZZ"): 3,
    }


def test_what_is_sold_as_it_comes_is_missed_at_price_less_cost() -> None:
    assert margins(use()).shortage_cost(("COM", "FIZZ"), [DAY]) == 2


def test_what_can_be_left_off_is_missed_at_its_cost() -> None:
    assert margins(use()).shortage_cost(("COM", "HERB"), [DAY]) == Fraction("0.01")


def test_an_ingredient_is_missed_at_the_margins_of_its_dishes_by_their_shares() -> None:
    """Of 2,000 g of beans 1,500 went to bowls and 500 to wraps; half the guests leave."""
    known = margins(use(("VAN", "BOWL", 10), ("COM", "WRAP", 10)))
    expected = (PER_GRAM_BOWL * 3 / 4 + PER_GRAM_WRAP / 4) / 2
    assert known.shortage_cost(BEANS, [DAY]) == expected


def test_what_goes_into_no_dish_counts_for_nothing_of_its_share() -> None:
    known = margins(use(("VAN", "BOWL", 10), ("COM", "BEAN", 500)))
    assert known.shortage_cost(BEANS, [DAY]) == PER_GRAM_BOWL * 3 / 4 / 2


@pytest.mark.parametrize(
    "known",
    [
        margins(use(("COM", "BEAN", 500))),
        margins(use(("VAN", "BOWL", 10)), price={}),
        margins(use(("VAN", "BOWL", 10)), cost=lambda pair, day: None),
        margins(use(("VAN", "BOWL", 10), day=march(5))),
    ],
    ids=["no dish", "no price", "no cost", "another day"],
)
def test_without_a_known_margin_nothing_is_said(known: Margins) -> None:
    assert known.shortage_cost(BEANS, [DAY]) is None


# The same of days to come, by mean demand.

SLOT = Slot(0, march(4), march(6), 0)
INPUTS = ReorderInputs(
    kitchen=KITCHEN,
    history=None,  # type: ignore[arg-type]  # not asked for
    suppliers={},
    offers=(
        offer(1000, "2", item="BEAN"),
        offer(100, "1", item="HERB"),
        offer(24, "24", item="FIZZ"),
        offer(24, "12", item="FIZZ", rank=2, supplier="S2"),
    ),
    pars=(),
    policy=Policy("America/New_York", leave_share=0.5),
    sale_prices={item: float(price) for item, price in PRICES.items()},
)
CONSIDERED = {pair: (Choice(INPUTS.offers[0], SLOT),) for pair in [BEANS, ("COM", "FIZZ")]}


def expected(demand: DemandPaths, **more: Any) -> dict[tuple[str, str], float]:
    inputs = replace(INPUTS, kitchen=replace(KITCHEN, **more))
    return shortage_costs(inputs, Sourcing(KITCHEN, {}), CONSIDERED, demand)


def paths(direct: dict[tuple[str, str], list[list[float]]]) -> DemandPaths:
    """From the 4th on, on two paths."""
    by_day = {key: np.array(rows) for key, rows in direct.items()}
    return DemandPaths(np.array([0.5, 0.5]), march(4), {}, by_day)


def test_ahead_the_shares_are_those_of_mean_demand_until_the_next_delivery() -> None:
    """Bowls 8 and 12, so 10 a day; wraps on the 5th only; the 6th is beyond the window."""
    demand = paths(
        {
            ("COM", "BOWL"): [[4, 6], [4, 6], [999, 999]],
            ("COM", "WRAP"): [[0, 0], [20, 0], [0, 0]],
        }
    )
    found = expected(demand)
    share = (PER_GRAM_BOWL * 3 / 4 + PER_GRAM_WRAP / 4) / 2
    assert found[BEANS] == pytest.approx(float(share))
    assert found["COM", "FIZZ"] == 2  # the first rank's price, not the cheaper one's


def test_ahead_stops_and_bookings_count_like_counters() -> None:
    at_stop = stop("VAN", "03-05")
    demand = replace(paths({}), stops={(at_stop.key, "WRAP"): np.array([4.0, 16.0])})
    found = expected(demand, stops=(at_stop,), bookings=(booking("VAN", "03-04", "BOWL", 10),))
    share = (PER_GRAM_BOWL * 3 / 4 + PER_GRAM_WRAP / 4) / 2
    assert found[BEANS] == pytest.approx(float(share))


def test_a_pair_without_a_margin_is_left_out() -> None:
    assert expected(paths({})) == {("COM", "FIZZ"): 2.0}
