"""Optimal orders where unmet demand never returns: the test bed of Zipkin, *Operations Research*
56 (2008) 1256, table 3, by value iteration over what is there and on its way (inventory-theory.md,
LS-05 and LS-06). Nothing here expires; it bounds what any rule of ours can do for goods that keep.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats

MEAN, HELD = 5, 1.0
LARGEST_ORDER, LARGEST_STOCK = 13, 34
CLOSE = 1e-6


@cache
def lowest_cost(lead: int, short: float) -> float:
    """Money a day: what was ordered ``lead`` days ago arrives, an order is placed, demand is met
    or lost, what is left is held."""
    stock, orders = np.arange(LARGEST_STOCK + 1), np.arange(LARGEST_ORDER + 1)
    demand = np.arange(int(stats.poisson(MEAN).isf(1e-10)))
    chances = stats.poisson(MEAN).pmf(demand)
    chances /= chances.sum()
    left = np.maximum(stock[:, None] - demand, 0)
    lost = np.maximum(demand - stock[:, None], 0)
    today = (HELD * left + short * lost) @ chances
    night = np.zeros((len(stock), len(stock)))
    np.add.at(night, (np.repeat(stock, len(demand)), left.ravel()), np.tile(chances, len(stock)))
    morning = np.minimum(stock[:, None] + orders, LARGEST_STOCK)  # what is left and arrives
    values = np.zeros((len(stock),) + (len(orders),) * (lead - 1))
    while True:
        # with a lead of one day what is ordered arrives, otherwise what comes first
        ahead = night @ values[morning].reshape(len(stock), -1)
        after = ahead.reshape((len(stock),) + (len(orders),) * lead)
        found = after.min(axis=-1) + today.reshape(-1, *[1] * (lead - 1))
        change = found - values
        if np.ptp(change) <= CLOSE:
            return float(change.min() + change.max()) / 2
        values = found - found.flat[0]


@pytest.mark.parametrize(
    ("lead", "short", "cost"),
    [
        pytest.param(1, 4, 4.0407, id="LS-05, L 1"),
        pytest.param(1, 9, 5.4382, id="LS-05, L 1, p 9"),
        pytest.param(1, 19, 6.6757, id="LS-05, L 1, p 19"),
        pytest.param(2, 4, 4.3953, id="LS-05, L 2"),
        pytest.param(2, 9, 6.0936, id="LS-05, L 2, p 9"),
        pytest.param(2, 19, 7.6644, id="LS-05, L 2, p 19"),
        pytest.param(3, 4, 4.5987, id="LS-05, L 3"),
        pytest.param(3, 9, 6.5314, id="LS-05, L 3, p 9"),
        pytest.param(3, 19, 8.3625, id="LS-05, L 3, p 19"),
        pytest.param(4, 4, 4.7285, id="LS-06"),
        pytest.param(4, 19, 8.8872, id="LS-06, p 19"),
    ],
)
def test_ls_the_lowest_cost_with_lost_sales(lead: int, short: float, cost: float) -> None:
    """Printed to two decimals; the others are our own."""
    assert lowest_cost(lead, short) == pytest.approx(cost, abs=6e-5)


def test_a_longer_lead_and_a_dearer_shortage_cost_more() -> None:
    by_lead = [lowest_cost(lead, 4) for lead in (1, 2, 3)]
    by_margin = [lowest_cost(2, short) for short in (4, 9, 19)]
    assert by_lead == sorted(by_lead)
    assert by_margin == sorted(by_margin)
