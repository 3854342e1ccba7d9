"""Reorder by enumeration (inventory-theory.md, 5.4; own rule, exact).

Day 0 today, delivery on day 1, next on day 3; demand each day 0, 4, 8 with 1/4, 1/2, 1/4; on
hand 6, use-by day 1; case 4; lost margin 5 a unit on days 1 and 2, waste of this order 2 a unit.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from purchasing.engine.costs import cost, outcome
from purchasing.engine.lines import Line
from purchasing.engine.outlook import Outlook
from purchasing.engine.quantities import decide_lines
from tests.published import supports
from tests.purchasing.engine.line_scenes import daily, decided, line, offer

USE, WEIGHTS = supports.days(*supports.listed([0, 4, 8], [0.25, 0.5, 0.25]), 3)
TODAY, FIRST, NEXT = 2, 3, 5


def order(life: int, basis: str = "forecast", level: float = 0.95) -> Line:
    """``life`` in days after arrival: the table's two days are 1 of ours, its one day is 0."""
    return line(
        daily({TODAY + n: qty for n, qty in enumerate(USE)}, len(WEIGHTS)),
        stock=[(6, FIRST)],
        between=(FIRST, NEXT),
        basis=basis,
        level=level,
        life=life,
        sold=offer(4, "8"),
        shortage_cost=5.0,
    )


def fractions(text: str) -> list[float]:
    return [float(Fraction(part)) for part in text.split()]


@pytest.mark.parametrize(
    ("cases", "lost", "wasted", "money"),
    zip(
        range(5),
        fractions("51/8 93/32 27/32 1/8 0"),  # RO-01
        fractions("0 17/32 79/32 23/4 77/8"),  # RO-02
        fractions("255/8 499/32 293/32 97/8 77/4"),  # RO-03
        strict=True,
    ),
)
def test_ro_01_to_03_lost_wasted_and_cost(
    cases: int, lost: float, wasted: float, money: float
) -> None:
    outlook, qty = Outlook.of([order(1)], WEIGHTS), np.array([4.0 * cases])
    found = outcome(outlook, qty)
    assert (found.lost[0], found.wasted[0]) == (lost, wasted)
    assert cost(outlook, qty)[0] == money


@pytest.mark.parametrize(("cases", "chance"), enumerate(fractions("29/32 39/64 1/4 3/64 0")))
def test_ro_02_chance_of_running_out(cases: int, chance: float) -> None:
    outlook = Outlook.of([order(1)], WEIGHTS)
    short = outlook.late.is_short(outlook.with_order(np.array([4.0 * cases])), outlook.late.window)
    assert (short[0] @ WEIGHTS) == chance


@pytest.mark.parametrize("cases", range(5))
def test_ro_02_what_is_on_hand_spoils_alike_in_every_case(cases: int) -> None:
    outlook = Outlook.of([order(1)], WEIGHTS)
    left = outlook.with_order(np.array([4.0 * cases])).left[0]
    on_hand = 1 - int(outlook.new[0])
    assert left[on_hand] @ WEIGHTS == 7 / 8


def test_ro_03_two_cases_cost_least() -> None:
    assert decided(order(1, "cost"), WEIGHTS).cases == 2


@pytest.mark.parametrize(("level", "cases"), [(0.75, 2), (0.90, 3), (0.95, 3)])
def test_ro_04_by_service_level(level: float, cases: int) -> None:
    assert decided(order(1, level=level), WEIGHTS).cases == cases


def test_ro_05_with_one_day_of_life_one_case_costs_least() -> None:
    outlook = Outlook.of([order(0)], WEIGHTS)
    costs = [float(cost(outlook, np.array([4.0 * cases]))[0]) for cases in range(5)]
    assert costs == fractions("255/8 107/4 125/4 157/4 189/4")
    assert decided(order(0, "cost"), WEIGHTS).cases == 1


def test_ro_05_no_number_of_cases_reaches_the_level_and_the_line_says_which_day() -> None:
    reasons = decided(order(0), WEIGHTS).reasons
    assert [f"{day:%m-%d}" for day in reasons.cannot_cover] == ["03-04"]
    assert reasons.stockout_chance_with == 0.75


def test_all_lines_together_give_what_each_gives_alone() -> None:
    lines = [order(1, "cost"), order(0, "cost"), order(1), order(0)]
    together = decide_lines(lines, WEIGHTS)
    assert [one.cases for one in together] == [decided(one, WEIGHTS).cases for one in lines]
