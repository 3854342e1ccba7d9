"""Amount to order by a par: food-standards.md section 9, through the decision of a line.

Source of the form: Basic Kitchen and Food Service Management, 2015 (par table); that it is
never below 0, with stock on order, is common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.purchasing.engine.line_scenes import daily, decided, line, offer


@pytest.mark.parametrize(
    ("par", "on_hand", "on_order", "case", "need", "cases"),
    [
        pytest.param(5000, 500, 0, 500, 4500, 9, id="TA-05 kg and g, in g"),
        pytest.param(90, 22, 0, 40, 68, 2, id="TA-07 in lb"),
        pytest.param(90, 22, 40, 40, 28, 1, id="TA-07 with a case on order"),
        pytest.param(90, 95, 0, 40, 0, 0, id="TA-08 above par"),
        pytest.param(90, 60, 40, 40, 0, 0, id="TA-08 above par with what is on order"),
    ],
)
def test_par_less_what_is_there_or_coming_in_whole_cases(
    par: float, on_hand: float, on_order: float, case: int, need: float, cases: int
) -> None:
    coming = [(4, on_order, None)] if on_order else []
    one = line(
        daily({}),
        stock=[(on_hand, None)],
        coming=coming,
        basis="fixed",
        par=par,
        sold=offer(case),
    )
    decision = decided(one)
    assert decision.cases == cases
    assert decision.reasons.raw_need == pytest.approx(need)
