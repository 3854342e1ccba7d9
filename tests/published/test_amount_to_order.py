"""Amount to order by a par or by covers: food-standards.md section 9, through the decision of a
line and the rules that a replay sets beside it.

Source of the form: Basic Kitchen and Food Service Management, 2015 (par table); that it is
never below 0, with stock on order, is common practice, no source, and so are par levels by mean
use and covers by the mean of the last same weekdays. AP by yield: WA-OT.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.engine.recipes import as_purchased
from purchasing.engine.lines import cases_for
from purchasing.engine.policies import PastUse, decide_by, mean_need
from purchasing.engine.replay_inputs import ONE, ReplayLine
from tests.purchasing.engine.line_scenes import CERTAIN, daily, decided, line, march, offer

TODAY = march(3)  # a Tuesday


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


def past(use: dict[date, int]) -> PastUse:
    known = ReplayLine("COM", "LEEK", None, (), {day: qty * ONE for day, qty in use.items()})
    return PastUse.of(known, TODAY, min(use))


@pytest.mark.parametrize(
    ("on_hand", "need", "cases"),
    [pytest.param(0, 90, 3, id="TA-06"), pytest.param(22, 68, 2, id="TA-06 and TA-07")],
)
def test_a_par_of_mean_use_for_review_and_lead_and_a_quarter(
    on_hand: float, need: float, cases: int
) -> None:
    """18 lb a day, 3 days from delivery to delivery and 1 until the first."""
    use = past({TODAY - timedelta(days=n): 18 for n in range(1, 57)})
    one = line(daily({}), stock=[(on_hand, None)], between=(4, 7), sold=offer(40))
    (decision,) = decide_by(mean_need, {("COM", "LEEK"): use}, [one], CERTAIN)
    assert decision.reasons.raw_need == pytest.approx(need)
    assert decision.cases == cases


def test_ta_14_covers_by_the_last_four_of_that_weekday_and_the_share_of_the_item() -> None:
    covers = dict.fromkeys((TODAY - timedelta(days=n) for n in range(1, 29)), 0)
    covers |= {TODAY - timedelta(weeks=4 - n): qty for n, qty in enumerate((180, 196, 204, 212))}
    forecast = past(covers).mean_on(TODAY)
    assert forecast == 198
    assert forecast * 90 / 600 == pytest.approx(29.7)
    assert cases_for(forecast * 90 / 600, offer(1)) == 30


@pytest.mark.parametrize(
    ("portions", "ounces", "usable_percent", "cooked", "bought"),
    [
        pytest.param(30, 3, "65.7", 5.625, 8.56, id="TA-15"),
        pytest.param(1250, 2, "62.5", 156.25, 250, id="TA-12"),
    ],
)
def test_what_is_bought_for_so_many_portions(
    portions: int, ounces: int, usable_percent: str, cooked: float, bought: float
) -> None:
    """lb; of TA-12 the theoretical use."""
    qty = Fraction(portions * ounces, 16)
    assert qty == cooked
    assert float(as_purchased(qty, Decimal(usable_percent))) == pytest.approx(bought, abs=5e-3)
