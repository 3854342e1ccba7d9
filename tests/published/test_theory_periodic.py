"""Periodic review, service measures and lost sales (inventory-theory.md, sections 2 and 4),
through the same functions that a run uses.

SS: Snyder and Shen, *Fundamentals of Supply Chain Theory*, 2nd edition.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from inventory.engine.projection import Floats, project
from purchasing.engine.costs import outcome
from purchasing.engine.lines import Line
from purchasing.engine.outlook import Outlook
from tests.published import supports
from tests.published.test_theory_newsvendor import cost_at
from tests.purchasing.engine.line_scenes import daily, decided, line, offer

MEAN, DEVIATION = 100.0, 10.0

# LF-01, standard tables; LF-02, G(-z) = G(z) + z.
LOSSES = {
    0.0: 0.398942, 0.25: 0.286345, 0.5: 0.197797, 0.75: 0.131167, 1.0: 0.083315, 1.25: 0.050587,
    1.5: 0.029307, 1.75: 0.016174, 2.0: 0.008491, 2.5: 0.002004, 3.0: 0.000382,
    -0.5: 0.697797, -1.0: 1.083315, -2.0: 2.008491,
}  # fmt: skip
# LF-02; to three digits in a public handbook of inventory formulas.
DEVIATES = {
    0.80: 0.841621, 0.85: 1.036433, 0.90: 1.281552, 0.95: 1.644854, 0.975: 1.959964,
    0.98: 2.053749, 0.99: 2.326348, 0.995: 2.575829,
}  # fmt: skip


def one_day(values: Floats, level: float = 0.95) -> Line:
    return line(daily({4: values}, len(values)), between=(4, 5), sold=offer(1), level=level)


@pytest.mark.parametrize(("deviate", "loss"), LOSSES.items())
def test_lf_expected_units_short_are_sigma_times_the_loss_function(
    deviate: float, loss: float
) -> None:
    values, weights = supports.normal(MEAN, DEVIATION)
    outlook = Outlook.of([one_day(values)], weights)
    lost = outcome(outlook, np.array([MEAN + deviate * DEVIATION])).lost
    assert lost[0] / DEVIATION == pytest.approx(loss, abs=1e-6)


@pytest.mark.parametrize(("level", "deviate"), DEVIATES.items())
def test_lf_02_a_service_level_asks_for_its_normal_deviate(level: float, deviate: float) -> None:
    values, weights = supports.normal(MEAN, DEVIATION)
    need = decided(one_day(values, level=level), weights).reasons.raw_need
    step = values[1] - values[0]
    assert need == pytest.approx(MEAN + deviate * DEVIATION, abs=step)


# Base stock over the whole protection interval: demand of lead time and review period.
BASE_STOCKS = {
    "PR-01 (SS ex. 4.4)": (50, 8, 5, 0.70 / 0.88, 264.7668944),
    "PR-03 (Chopra and Meindl exercise)": (2500, 500, 6, 0.90, 16569.5737),
    "PR-04 (posted exercise, answer ours)": (1600, 300, 6, 0.975, 11040.2735),
}


@pytest.mark.parametrize(
    ("mean", "deviation", "periods", "level", "expected"),
    BASE_STOCKS.values(),
    ids=list(BASE_STOCKS),
)
def test_base_stock_is_the_quantile_of_the_protection_interval(
    mean: float, deviation: float, periods: int, level: float, expected: float
) -> None:
    values, weights = supports.normal(mean * periods, deviation * periods**0.5)
    need = decided(one_day(values, level=level), weights).reasons.raw_need
    assert need == pytest.approx(expected, abs=values[1] - values[0])


def test_pr_01_cost_at_the_best_quantity_and_beside_it() -> None:
    support = supports.normal(250, 8 * 5**0.5)
    assert cost_at(support, 0.18, 0.70, 264.7668944) == pytest.approx(4.4667810, rel=1e-5)
    assert cost_at(support, 0.18, 0.70, 180) == pytest.approx(49.0001647, rel=1e-5)


def test_pr_02_poisson_demand_over_lead_time_and_review() -> None:
    """Restated in the tests of a public library of inventory formulas."""
    support = supports.poisson(18 * 5)
    need = decided(one_day(support[0], level=1.25 / 1.33), support[1]).reasons.raw_need
    assert need == 105
    assert cost_at(support, 0.08, 1.25, 105) == pytest.approx(1.5450189, rel=1e-6)


@pytest.mark.parametrize(
    ("stock", "cycle"),
    [(40, 0.5419181), (45, 0.8096501), (50, 0.9473720), (55, 0.9903212)],
)
def test_fr_04_cycle_service_is_the_chance_of_no_shortage(stock: float, cycle: float) -> None:
    """Poisson 20 a day over lead time and review of a day each; exact sums."""
    (first, second), weights = supports.days(*supports.poisson(20), 2)
    one = line(daily({2: first, 3: second}, len(weights)), between=(2, 4), stock=[(stock, None)])
    reasons = decided(one, weights).reasons
    assert 1 - reasons.stockout_chance_without == pytest.approx(cycle, rel=1e-6)


# (r, Q): reorder point and lot, mean and deviation of the lead time; fill rate 1 - expected short
# by lot, and cycle service.
FR_02 = (2 * 30**2 + 100**2 * 0.5**2) ** 0.5  # two weeks of 100 with sd 30, sd 0.5 of the weeks
POINTS = {
    "FR-01 (Nahmias, mustard, M), fill rate": (125.5310, 100, 100, 25, 0.98, 0.8464294),
    "FR-01, cycle service": (151.3437, 100, 100, 25, 0.9981642, 0.98),
    "FR-02 (GUIDE), cycle service": (307.8598, 400, 200, FR_02, 0.9965749, 0.95),
    "FR-02, fill rate": (251.9081, 400, 200, FR_02, 0.98, NormalDist().cdf(0.7915916)),
}
APART = 500  # added to demand and stock alike: the tables' normal demand goes below 0


def lost_and_lasting(support: tuple[Floats, Floats], stock: float) -> tuple[float, float]:
    """Units short of that stock, and the chance that it lasts."""
    values, weights = support
    outlook = Outlook.of([one_day(values)], weights)
    held = line(daily({4: values}, len(values)), between=(4, 5), stock=[(stock, None)])
    short = decided(held, weights).reasons.stockout_chance_without
    return float(outcome(outlook, np.array([stock])).lost[0]), 1 - short


@pytest.mark.parametrize(
    ("point", "lot", "mean", "deviation", "fill", "cycle"), POINTS.values(), ids=list(POINTS)
)
def test_fr_fill_rate_and_cycle_service_of_a_reorder_point(
    point: float, lot: float, mean: float, deviation: float, fill: float, cycle: float
) -> None:
    support = supports.normal(mean + APART, deviation)
    lost, lasting = lost_and_lasting(support, point + APART)
    assert 1 - lost / lot == pytest.approx(fill, abs=2e-6)
    assert lasting == pytest.approx(cycle, abs=1e-3)


@pytest.mark.parametrize(
    ("stock", "fill", "cycle"), [(70, 0.9767526, 0.8320381), (60, 0.8963518, 0.5)]
)
def test_fr_03_fill_rate_of_a_base_stock(stock: float, fill: float, cycle: float) -> None:
    """20 a day, sd 6, lead 1, review 2: what is short by the end of the interval less what was
    short at its start, with backorders."""
    late, lasting = lost_and_lasting(supports.normal(60, 6 * 3**0.5), stock)
    early, _ = lost_and_lasting(supports.normal(20, 6), stock)
    assert 1 - (late - early) / 40 == pytest.approx(fill, abs=2e-6)
    assert lasting == pytest.approx(cycle, abs=1e-3)


def test_pr_05_the_variance_is_that_of_the_whole_interval() -> None:
    """60 a day, sd 2, review 10, lead 5 with sd 0.5, on hand 480: a posted answer says 479."""
    deviation = (15 * 2**2 + 60**2 * 0.5**2) ** 0.5
    values, weights = supports.normal(900, deviation)
    one = line(
        daily({4: values}, len(values)),
        between=(4, 5),
        stock=[(480, None)],
        level=0.975,
        sold=offer(1),
    )
    found = decided(one, weights).reasons.raw_need
    assert found == pytest.approx(480.7, abs=values[1] - values[0])


def test_fr_05_fill_rate_and_cycle_service_are_not_the_same() -> None:
    """Demand 10 12 8 15, twelve available each day, the rest of each day lost."""
    demand = np.array([10.0, 12, 8, 15])
    fresh_every_day = np.eye(4, dtype=np.bool_)[None]
    found = project(np.full((1, 4), 12.0), fresh_every_day, demand[None, :, None])
    assert 1 - found.short.sum() / demand.sum() == pytest.approx(42 / 45)
    assert (found.short == 0).mean() == 0.75


# Section 4: each morning the last order arrives, then order up to S (on hand and ordered), then
# demand 0, 1, 2 with 1/4, 1/2, 1/4. Lost sales: lost and left over a day, as fractions.
LOST_SALES = {"LS-01": (1, 4 / 7, 1 / 7), "LS-02": (2, 3 / 13, 6 / 13),
              "LS-03": (3, 1 / 20, 11 / 10), "LS-04": (4, 0, 2)}  # fmt: skip
CHANCES = np.array([0.25, 0.5, 0.25])


def one_day_of(on_hand: int) -> tuple[Floats, Floats]:
    """Lost and left (3,) for the three demands, from the projection of R6."""
    found = project(
        np.array([[float(on_hand)]]),
        np.ones((1, 1, 1), dtype=np.bool_),
        np.array([[[0.0, 1.0, 2.0]]]),
    )
    return found.short[0, 0], found.left[0, 0]


def stationary(target: int) -> Floats:
    """Chances of the stock after receipt, 0 to ``target``: what was left and what was ordered
    the morning before."""
    moves = np.zeros((target + 1, target + 1))
    for on_hand in range(target + 1):
        _, left = one_day_of(on_hand)
        np.add.at(moves[on_hand], (left + target - on_hand).astype(int), CHANCES)
    equations = np.vstack([moves.T - np.eye(target + 1), np.ones(target + 1)])
    return np.linalg.lstsq(equations, np.r_[np.zeros(target + 1), 1.0], rcond=None)[0]


@pytest.mark.parametrize(("target", "lost", "left"), LOST_SALES.values(), ids=list(LOST_SALES))
def test_ls_what_is_lost_never_comes_back(target: int, lost: float, left: float) -> None:
    chances = stationary(target)
    days = [one_day_of(on_hand) for on_hand in range(target + 1)]
    lost_a_day = sum(p * short @ CHANCES for p, (short, _) in zip(chances, days, strict=True))
    left_a_day = sum(p * rest @ CHANCES for p, (_, rest) in zip(chances, days, strict=True))
    assert (lost_a_day, left_a_day) == pytest.approx((lost, left), abs=1e-9)


def test_ls_03_stock_after_receipt_and_conservation() -> None:
    chances = stationary(3)
    assert chances == pytest.approx([0, 1 / 5, 11 / 20, 1 / 4], abs=1e-9)
    ordered = 3 - chances @ np.arange(4)
    assert ordered == pytest.approx(19 / 20)  # = 1 - lost


def test_the_deviate_of_the_tables_is_that_of_the_standard_library() -> None:
    assert NormalDist().inv_cdf(0.95) == pytest.approx(DEVIATES[0.95], abs=1e-6)
