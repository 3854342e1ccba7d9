"""Recipe explosion and net requirements: inventory-theory.md section 9.

MR-02 and MR-03 are an example of Nahmias; MR-04 to MR-07 are recomputed there; MR-09 is our own
rule. MR-06 and MR-08 stand with the tests of prep.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from inventory.engine.kitchen import Item, Kitchen
from inventory.engine.projection import project
from inventory.engine.recipes import as_purchased, explode, low_level_codes
from inventory.problems import Refused
from tests.inventory.engine.small_kitchens import booking, kitchen, lot, place, recipe
from tests.purchasing.engine.level_scenes import drawn, plan
from tests.purchasing.engine.line_scenes import daily, decided, line, offer

RECIPES = [
    recipe("PORTION", 1, {"P": 120, "I": 20}),
    # 6 kg of usable I at a yield of 80 %
    recipe("P", 10_000, {"I": float(as_purchased(Fraction(6_000), Decimal(80))), "J": 4_000}),
]
BY_MADE = {one.makes: one for one in RECIPES}


def sixty_portions(p_on_hand: float) -> Kitchen:
    return kitchen(
        [place("COM", "commissary", hours=("06:00", "18:00"))],
        [
            Item("PORTION", "menu", "each"),
            Item("P", "prep", "g"),
            Item("I", "ingredient", "g"),
            Item("J", "ingredient", "g"),
        ],
        RECIPES,
        bookings=[booking("COM", "03-05", "PORTION", 60)],
        lots=[lot("COM", "P", p_on_hand)] if p_on_hand else [],
    )


def usage(p_on_hand: float) -> dict[str, float]:
    draws = plan(sixty_portions(p_on_hand), "03-02 06:00").draws
    return {item: sum(row[2] for row in drawn(draws["COM", item])) for item in ("I", "J")}


def test_mr_04_net_first_then_explode() -> None:
    assert explode(BY_MADE, "PORTION", 60, opened=frozenset({"PORTION"})) == pytest.approx(
        {"P": 7_200, "I": 1_200}
    )
    assert usage(3_200) == pytest.approx({"I": 4_200, "J": 1_600})
    assert low_level_codes(BY_MADE)["I"] == 2


def test_mr_05_what_was_made_already_is_not_bought_again() -> None:
    """I on hand 1.25 kg, case 5 kg: net 2.95 kg is one case; 6.6 kg gross would be two."""
    gross = explode(BY_MADE, "PORTION", 60)
    assert gross["I"] == pytest.approx(6_600)
    for needed, net, cases in ((usage(3_200)["I"], 2_950, 1), (gross["I"], 5_350, 2)):
        sold = offer(5_000)
        decision = decided(line(daily({5: needed}), stock=[(1_250, None)], sold=sold))
        assert decision.cases == cases
        assert decision.reasons.raw_need == pytest.approx(net)


def test_mr_07_scrap_and_two_steps_of_yield() -> None:
    """100 good pieces at 8 % scrap take 108.696; yields of 0.9 and 0.8 for 10 take 13.8888889."""
    assert float(as_purchased(Fraction(100), Decimal(92))) == pytest.approx(108.696, abs=5e-4)
    two_steps = as_purchased(as_purchased(Fraction(10), Decimal(90)), Decimal(80))
    assert two_steps == Fraction(10) / Fraction("0.72")


def test_mr_09_a_ring_of_two_is_refused_by_name() -> None:
    ring = {one.makes: one for one in (recipe("B", 1, {"A": 1}), recipe("A", 1, {"B": 1}))}
    with pytest.raises(Refused) as caught:
        low_level_codes(ring)
    assert caught.value.problems[0].message.startswith("A needs B needs A:")


def test_mr_01_levels_of_a_product_of_three_levels() -> None:
    """Krajewski and Ritzman type: A = 2 B + 3 C; B = 1 F; C = 1 D + 1 E + 2 F."""
    product = [
        recipe("A", 1, {"B": 2, "C": 3}),
        recipe("B", 1, {"F": 1}),
        recipe("C", 1, {"D": 1, "E": 1, "F": 2}),
    ]
    levels = low_level_codes({one.makes: one for one in product})
    assert levels == {"A": 0, "B": 1, "C": 1, "D": 2, "E": 2, "F": 2}
    # 20 of A in the first period: gross 40 B and 60 C, so 60 D, 60 E and 160 F.
    made = explode({one.makes: one for one in product}, "A", 20)
    assert made == {"D": 60, "E": 60, "F": 160}


def net(gross: list[int], on_hand: int, receipts: list[int]) -> list[int]:
    """What each week lacks, from the projection: what is on hand, and what is due by week."""
    lots = np.array([[on_hand, *receipts]], dtype=float)
    serves = np.arange(len(gross))[:, None] >= np.array([0, *range(len(receipts))])
    draws = np.array(gross, dtype=float)[None, :, None]
    return [round(lacking) for lacking in project(lots, serves[None], draws).short[0, :, 0]]


def test_mr_02_and_03_net_requirements_of_two_levels() -> None:
    """Nahmias, trumpets and valves (M); three valves each, four weeks earlier."""
    trumpets = net([77, 42, 38, 21, 26, 112, 45, 14, 76, 38], 23, [12, 0, 6, 9])
    assert trumpets == [42, 42, 32, 12, 26, 112, 45, 14, 76, 38]
    valves = [3 * qty for qty in trumpets]
    assert valves == [126, 126, 96, 36, 78, 336, 135, 42, 228, 114]
    assert net(valves, 186, [0, 96]) == [0, 0, 66, 36, 78, 336, 135, 42, 228, 114]
