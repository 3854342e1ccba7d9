"""Cases per line (R7 to R9, R11): the check cases of the rules by name, and each reading that
spoils lines if it is read otherwise."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import pytest

from purchasing.engine.lines import Line, cases_for, next_allowed
from purchasing.engine.quantities import decide_lines
from tests.purchasing.engine.line_scenes import daily, decided, draws, line, march, offer


@dataclass(frozen=True)
class Check:
    """``stock`` (qty, use-by), ``coming`` (day, qty, use-by)."""

    have: float
    fixed: int
    forecast: int
    stock: list[tuple[float, int | None]] = field(default_factory=list)
    coming: list[tuple[int, float, int | None]] = field(default_factory=list)
    use: float = 10
    life: int | None = None
    minimum: int = 1
    multiple: int = 1

    def line(self, basis: str) -> Line:
        return line(
            daily(dict.fromkeys(range(2, 20), self.use) if self.use else {}),
            stock=self.stock,
            coming=self.coming,
            basis=basis,
            par=30,
            sold=offer(10, minimum_cases=self.minimum, case_multiple=self.multiple),
            life=self.life,
        )


# rules.md, "Check cases": T = 03-02, D1 = 03-04, D2 = 03-07, usage 10 a day, pack 10, par 30.
CHECKS = {
    "Q1": Check(5, 3, 3, [(25, None)]),
    "Q2": Check(0, 3, 3, [(15, None)]),
    "Q3": Check(0, 3, 3, [(50, 3)]),
    "Q4": Check(30, 0, 2, [(50, 4)]),
    "Q5": Check(10, 2, 2, [(20, None)], [(4, 10, None)]),
    "Q6": Check(0, 3, 1, [(20, None)], [(5, 20, None)]),
    "Q7": Check(0, 3, 2, [(20, None)], life=1),
    "Q8": Check(0, 3, 3, [(20, None)], life=2),
    "Q9": Check(0, 3, 3, [(20, None)], minimum=2, multiple=3),
    "Q10": Check(20, 1, 0, [(20, None)], use=0),
    "Q11": Check(20, 1, 1, [(10, 3), (30, 9)]),
    "Q12": Check(30, 0, 2, coming=[(3, 40, 4)]),
}
each_check = pytest.mark.parametrize("check", CHECKS.values(), ids=list(CHECKS))


@each_check
def test_fixed_par_of_the_check_cases(check: Check) -> None:
    decision = decided(check.line("fixed"))
    assert decision.cases == check.fixed
    assert 30 - decision.reasons.raw_need == check.have
    assert (decision.reasons.basis_used, decision.reasons.rule) == ("fixed", "R8")


@each_check
def test_forecast_of_the_check_cases(check: Check) -> None:
    decision = decided(check.line("forecast"))
    assert decision.cases == check.forecast
    assert decision.reasons.target - decision.reasons.raw_need == check.have
    assert (decision.reasons.basis_used, decision.reasons.rule) == ("forecast", "R9")


@each_check
def test_greater_is_the_larger_of_the_two(check: Check) -> None:
    decision = decided(check.line("greater"))
    assert decision.cases == max(check.fixed, check.forecast)
    assert decision.reasons.rule == "R11"


def test_q2_the_usage_lost_on_the_day_before_is_not_owed() -> None:
    reasons = decided(CHECKS["Q2"].line("forecast")).reasons
    assert reasons.stockout_chance_before_delivery == 1
    assert (reasons.raw_need, reasons.stockout_chance_with) == (30, 0)


def test_q4_fixed_is_flagged_since_it_runs_out_before_the_next_delivery() -> None:
    decision = decided(CHECKS["Q4"].line("fixed"))
    assert decision.runs_out_before_next is True
    assert decision.reasons.runs_out_on == march(5)
    assert decision.reasons.expiring_before_use == 20


def test_q7_names_the_day_that_no_number_of_cases_covers() -> None:
    reasons = decided(CHECKS["Q7"].line("forecast")).reasons
    assert reasons.cannot_cover == (march(6),)
    assert reasons.stockout_chance_with == 1


def test_q8_the_use_by_day_itself_is_covered() -> None:
    assert decided(CHECKS["Q8"].line("forecast")).reasons.cannot_cover == ()


def test_q10_a_fixed_par_is_filled_whether_or_not_anybody_uses_the_item() -> None:
    reasons = decided(CHECKS["Q10"].line("fixed")).reasons
    assert (reasons.use_in_window, reasons.raw_need, reasons.target) == (0, 10, 30)


@pytest.mark.parametrize(
    ("need", "minimum", "multiple", "cases"),
    [
        (0, 2, 3, 0),
        (0.000001, 1, 1, 0),  # 10^-6 of a base unit is nothing
        (0.0000011, 1, 1, 1),
        (10.000001, 1, 1, 1),
        (10.00001, 1, 1, 2),
        (1, 2, 3, 3),  # the minimum and the multiple do not add up
        (31, 2, 3, 6),
        (31, 5, 2, 6),
        (60, 1, 1, 6),
    ],
)
def test_cases_are_the_smallest_multiple_at_or_above_need_and_minimum(
    need: float, minimum: int, multiple: int, cases: int
) -> None:
    sold = offer(10, minimum_cases=minimum, case_multiple=multiple)
    assert cases_for(need, sold) == cases


def test_the_next_allowed_count_steps_by_the_multiple() -> None:
    sold = offer(0.3, minimum_cases=5, case_multiple=4)
    assert [next_allowed(n, sold) for n in (0, 8, 12)] == [8, 12, 16]


EVERY_DAY = dict.fromkeys(range(2, 20), 10)


def test_a_load_before_the_delivery_cannot_be_helped_and_one_before_the_next_must_be() -> None:
    loads = draws([(day, "07:00", day, 10) for day in range(4, 9)])
    reasons = decided(line(loads, arrives="08:00")).reasons
    assert (reasons.use_to_delivery, reasons.use_in_window) == (10, 30)
    assert (reasons.stockout_chance_before_delivery, reasons.raw_need) == (1, 30)


def test_without_an_hour_the_window_is_the_days_from_d1_to_the_eve_of_d2() -> None:
    loads = draws([(day, "07:00", day, 10) for day in range(4, 9)])
    reasons = decided(line(loads)).reasons
    assert (reasons.use_to_delivery, reasons.use_in_window) == (0, 30)


def test_a_draw_at_the_moment_of_arrival_comes_after_it() -> None:
    drawn = draws([(4, "08:00", 4, 10)])
    assert decided(line(drawn, arrives="08:00")).cases == 1


def test_a_draw_without_an_hour_comes_after_all_arrivals() -> None:
    drawn = draws([(4, None, 4, 10), (7, None, 7, 10)])
    reasons = decided(line(drawn, arrives="18:00")).reasons
    assert (reasons.use_to_delivery, reasons.use_in_window) == (0, 10)


def test_what_is_due_today_and_not_in_comes_before_what_is_still_to_be_drawn() -> None:
    drawn = draws([(2, "06:30", 2, 10)])
    due_at_five = line(drawn, coming=[(2, 10, None, "05:00")], between=(2, 3))
    due_at_seven = line(drawn, coming=[(2, 10, None, "07:00")], between=(2, 3))
    assert decided(due_at_five).cases == 0
    assert decided(due_at_seven).cases == 1


def test_todays_own_delivery_is_there_first_thing_when_its_hour_is_past() -> None:
    drawn = draws([(2, "06:30", 2, 10)])
    assert decided(line(drawn, arrives="05:00", between=(2, 3))).cases == 1
    assert decided(line(drawn, arrives="07:00", between=(2, 3))).cases == 0


def test_have_counts_what_is_due_on_the_delivery_day_whatever_its_hour() -> None:
    drawn = draws([(4, "07:00", 4, 10)])
    late_lorry = line(drawn, coming=[(4, 10, None, "18:00")], basis="fixed", par=10)
    assert decided(late_lorry).cases == 0


def test_have_leaves_out_what_comes_later() -> None:
    decision = decided(line(daily({}), coming=[(5, 10, None)], basis="fixed", par=10))
    assert (decision.cases, decision.reasons.on_order_later) == (1, 10)


def test_a_lot_must_be_good_on_the_day_of_use() -> None:
    evening_load = draws([(5, "19:30", 6, 10)])
    assert decided(line(evening_load, stock=[(10, 5)])).cases == 1
    assert decided(line(evening_load, stock=[(10, 6)])).cases == 0


def test_the_reach_goes_by_the_day_of_use() -> None:
    evening_load = draws([(5, "19:30", 6, 10)])
    reasons = decided(line(evening_load, life=1)).reasons
    assert (reasons.raw_need, reasons.cannot_cover) == (0, (march(5),))


def test_the_new_lot_comes_last_among_equal_use_by_dates() -> None:
    due_with_it = line(
        daily({4: 10, 5: 0}), coming=[(4, 5, 5)], life=1, basis="fixed", par=15, sold=offer(10)
    )
    decision = decided(due_with_it)
    assert decision.cases == 1
    assert decision.reasons.expected_waste == 5


def test_reasons_of_a_plain_line_add_up() -> None:
    reasons = decided(
        line(daily(EVERY_DAY), stock=[(25, None)], coming=[(3, 4, None), (6, 3, None)])
    ).reasons
    assert (reasons.on_hand, reasons.on_order, reasons.on_order_later) == (25, 4, 3)
    assert (reasons.use_to_delivery, reasons.use_in_window) == (20, 30)
    assert (reasons.raw_need, reasons.rounding, reasons.target) == (18, 2, 27)
    assert (reasons.stockout_chance_without, reasons.stockout_chance_with) == (1, 0)
    assert (reasons.expected_waste, reasons.late) == (0, 0)


def test_expected_waste_is_what_is_left_of_the_new_lot_at_its_use_by() -> None:
    reasons = decided(line(daily({4: 10, 5: 4, 6: 4}), life=5, sold=offer(25, "50"))).reasons
    assert (reasons.expected_waste, reasons.expected_waste_value) == (7, 14)


def test_usage_after_the_window_but_within_the_life_saves_the_new_lot() -> None:
    reasons = decided(line(daily({4: 10, 8: 9}), life=5, sold=offer(25))).reasons
    assert reasons.expected_waste == 6


def test_usage_beyond_the_days_known_goes_on_as_before() -> None:
    use = dict.fromkeys(range(2, 16), 1)
    known = line(daily(use), life=20, sold=offer(25))
    cut_short = line(daily(use), life=20, sold=offer(25), known_until=march(15))
    assert decided(known).reasons.expected_waste == 13
    assert decided(cut_short).reasons.expected_waste == 13 - 9


def test_p90_is_met_on_nine_paths_of_ten() -> None:
    use = np.arange(1.0, 11.0)
    reasons = decided(line(daily({4: use}, 10)), np.full(10, 0.1)).reasons
    assert reasons.use_in_window == pytest.approx(5.5)
    assert reasons.use_in_window_p90 == 9


def test_runs_out_on_the_first_day_on_which_half_the_weight_is_short() -> None:
    use = {4: [1, 1, 9], 5: [1, 9, 9], 6: [9, 9, 9]}
    stock: list[tuple[float, int | None]] = [(3, None)]
    short = line(daily(use, 3), stock=stock, basis="fixed", par=0)
    assert decided(short, np.array([0.4, 0.3, 0.3])).reasons.runs_out_on == march(5)
    assert decided(short, np.array([0.6, 0.1, 0.3])).reasons.runs_out_on == march(6)


def test_a_day_is_short_on_every_path_on_which_any_of_its_draws_is() -> None:
    """Two paths in the morning, two others in the evening, of five."""
    day = draws([(5, "07:00", 5, [9, 9, 0, 0, 0]), (5, "19:00", 5, [0, 0, 9, 9, 0])], 5)
    short = line(day, basis="fixed", par=0)
    assert decided(short, np.full(5, 0.2)).reasons.runs_out_on == march(5)


def test_what_reaches_its_use_by_on_the_next_delivery_day_is_not_yet_spoiled() -> None:
    kept = line(daily({}), stock=[(7, 6), (9, 7)])
    assert decided(kept).reasons.expiring_before_use == 7


@pytest.mark.parametrize(
    ("level", "cases"), [(0.5, 1), (0.75, 2), (0.7500001, 3), (0.95, 3), (0.9500001, 4)]
)
def test_the_fewest_cases_whose_paths_carry_the_service_level(level: float, cases: int) -> None:
    weights = np.array([0.5, 0.25, 0.2, 0.05])
    one = line(daily({5: [7, 20, 21, 31]}, 4), level=level)
    decision = decided(one, weights)
    assert decision.cases == cases
    assert 1 - decision.reasons.stockout_chance_with >= level - 1e-9


def test_a_cost_basis_without_known_margins_is_decided_by_forecast_and_says_so() -> None:
    reasons = decided(line(daily(EVERY_DAY), basis="cost")).reasons
    assert (reasons.basis_used, reasons.rule) == ("forecast", "R9")


def test_a_basis_that_needs_a_par_refuses_to_guess_one() -> None:
    with pytest.raises(ValueError, match="the basis fixed needs a par"):
        decided(line(daily(EVERY_DAY), basis="fixed"))


def test_a_draw_beyond_the_reach_may_come_before_one_within_it() -> None:
    """An evening load for the day after tomorrow takes what outlives the new lot; with the new
    lot in front of it that stock is spared, so more is needed than the shortage seen without."""
    drawn = draws([(4, "07:00", 4, 6), (4, "18:00", 6, 6), (4, "20:00", 4, 6)])
    torn = line(drawn, stock=[(6, 9)], life=1, sold=offer(1))
    assert decided(torn).cases == 12
    assert decided(torn).reasons.raw_need == pytest.approx(12, abs=1e-6)


def test_nothing_to_decide_is_no_decision() -> None:
    assert decide_lines([], np.ones(1)) == []


def test_a_line_far_beyond_a_chunk_is_decided_like_one_alone() -> None:
    rng = np.random.default_rng(5)
    lines = [
        line(daily({4: rng.poisson(9, 40), 5: rng.poisson(9, 40)}, 40), stock=[(n % 7, 5)])
        for n in range(700)
    ]
    weights = np.full(40, 1 / 40)
    together = decide_lines(lines, weights)
    assert [one.reasons for one in together[::97]] == [
        decided(one, weights).reasons for one in lines[::97]
    ]


def test_dates_are_dates() -> None:
    found: Any = decided(CHECKS["Q4"].line("fixed")).reasons.runs_out_on
    assert type(found) is date
