"""One period, one decision (inventory-theory.md, section 1), through the same functions that a
run uses: one day's life, basis cost; ``h`` a unit left over, ``p`` a unit short.

SS: Snyder and Shen, *Fundamentals of Supply Chain Theory*, 2nd edition.
"""

from __future__ import annotations

import numpy as np
import pytest

from inventory.engine.projection import Floats
from purchasing.engine.costs import cost
from purchasing.engine.lines import Line
from purchasing.engine.outlook import Outlook
from tests.published import supports
from tests.purchasing.engine.line_scenes import daily, decided, line, offer

Support = tuple[Floats, Floats]
NV_12 = ([18.0, 22, 25, 27, 30, 31, 34, 40, 52], [0.1, 0.1, 0.2, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1])


def one_day(support: Support, h: float, p: float, pack: float = 1) -> Line:
    return line(
        daily({4: support[0]}, len(support[0])),
        between=(4, 5),
        basis="cost",
        life=0,
        sold=offer(pack, str(h * pack)),
        shortage_cost=p,
    )


def cost_at(support: Support, h: float, p: float, qty: float) -> float:
    outlook = Outlook.of([one_day(support, h, p)], support[1])
    return float(cost(outlook, np.array([qty]))[0])


# id: support, h, p, the smallest best quantity, its cost, and costs at other quantities.
COUNTS = {
    "NV-05 (SS)": (supports.poisson(50), 0.18, 0.70, 56, 1.7972352, {}),
    "NV-07 (SS ex. 4.7)": (supports.poisson(6), 1, 4, 8, 3.5701069, {5: 6.5902960}),
    "NV-07 (SS pr. 4.8a)": (supports.poisson(18), 200, 270, 19, 786.0884409, {13: 1445.7510629}),
    "NV-08 (SS pr. 4.7b)": (
        supports.listed(range(1, 9), [0.25, 0.05, 0.10, 0.20, 0.15, 0.10, 0.10, 0.05]),
        0.5, 1, 5, 1.225, {3: 1.725},
    ),
    "NV-09 geometric (SS docs)": (supports.geometric(0.2), 1, 4, 8, 7.194304, {}),
    "NV-10 (own)": (supports.negative_binomial(20, 60), 1, 4, 26, 11.6749995, {24: 12.0632316}),
    "NV-11 (own)": (supports.negative_binomial(20, 60), 2, 3, 21, 15.1428025, {}),
    "NV-11 (own), p 19": (
        supports.negative_binomial(20, 60), 1, 19, 34, 18.6549279, {28: 23.6746200}
    ),
    "NV-12 (own)": (supports.listed(*NV_12), 2, 5, 34, 24.0, {31: 24.3, 40: 27.6}),
    "NV-13 (own), a flat bottom": (supports.listed(*NV_12), 1, 4, 34, 15.6, {37: 15.6, 40: 15.6}),
}  # fmt: skip
each_count = pytest.mark.parametrize(
    ("support", "h", "p", "best", "lowest", "others"), COUNTS.values(), ids=list(COUNTS)
)


@each_count
def test_the_cheapest_quantity_of_counts(
    support: Support, h: float, p: float, best: int, lowest: float, others: dict[int, float]
) -> None:
    decision = decided(one_day(support, h, p), support[1])
    assert decision.cases == best
    assert (decision.reasons.basis_used, decision.reasons.rule) == ("cost", "R10")
    assert cost_at(support, h, p, best) == pytest.approx(lowest, rel=1e-6)


@each_count
def test_the_cost_of_other_quantities(
    support: Support, h: float, p: float, best: int, lowest: float, others: dict[int, float]
) -> None:
    for qty, expected in others.items():
        assert cost_at(support, h, p, qty) == pytest.approx(expected, rel=1e-6)
    around = [cost_at(support, h, p, best + step) for step in (-2, -1, 0, 1, 2)]
    assert np.diff(around, n=2).min() >= -1e-9  # convex


@each_count
def test_the_service_level_of_the_critical_ratio_gives_the_same_quantity(
    support: Support, h: float, p: float, best: int, lowest: float, others: dict[int, float]
) -> None:
    by_forecast = line(
        daily({4: support[0]}, len(support[0])), between=(4, 5), level=p / (p + h), sold=offer(1)
    )
    assert decided(by_forecast, support[1]).cases == best


# id: support, h, p, best quantity, its cost, costs at other quantities; continuous demand in
# cells, so that quantities agree within one cell.
CONTINUOUS = {
    "NV-01 (SS ex. 4.3)": (
        supports.normal(50, 8), 0.18, 0.70, 56.6039559, 1.9976052,
        {40: 7.3561316, 53: 2.2237480, 60: 2.1561316},
    ),
    "NV-04 (SS pr. 4.1)": (
        supports.normal(900, 60), 43, 79, 922.7214038, 2718.1967818, {1040: 6044.2984152}
    ),
    "NV-09 lognormal (SS pr. 4.8b)": (
        supports.lognormal(6, 0.3), 1, 0.1765, 295.6266448, 29.4425435, {}
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("support", "h", "p", "best", "lowest", "others"), CONTINUOUS.values(), ids=list(CONTINUOUS)
)
def test_the_cheapest_quantity_of_continuous_demand(
    support: Support, h: float, p: float, best: float, lowest: float, others: dict[float, float]
) -> None:
    cell = support[0][1] - support[0][0]
    by_forecast = line(daily({4: support[0]}, len(support[0])), between=(4, 5), level=p / (p + h))
    assert decided(by_forecast, support[1]).reasons.raw_need == pytest.approx(best, abs=cell)
    for qty, expected in {best: lowest, **others}.items():
        assert cost_at(support, h, p, qty) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("name", "support", "revenue", "purchase", "salvage", "qty", "profit"),
    [
        ("NV-02 (SS ex. 4.2)", supports.normal(50, 8), 1, 0.30, 0.12, 56.6039559, 33.0023948),
        ("NV-03 (SS pr. 4.3b)", supports.normal(50, 10), 7, 2.5, 1.5, 59.0845787, 210.4768083),
        ("NV-06 (SS)", supports.poisson(50), 1, 0.30, 0.12, 56, 33.2027648),
    ],
)
def test_profit_is_margin_on_all_demand_less_the_cost(
    name: str,
    support: Support,
    revenue: float,
    purchase: float,
    salvage: float,
    qty: float,
    profit: float,
) -> None:
    margin, mean = revenue - purchase, float(support[0] @ support[1])
    lost = cost_at(support, purchase - salvage, margin, qty)
    assert margin * mean - lost == pytest.approx(profit, rel=1e-6)


def test_nv_14_cases_of_twelve() -> None:
    support = supports.poisson(50)
    assert decided(one_day(support, 0.18, 0.70, pack=12), support[1]).cases == 5
    costs = {60: 2.0496048, 48: 3.0809690, 72: 3.9633418}
    for qty, expected in costs.items():
        assert cost_at(support, 0.18, 0.70, qty) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("on_hand", "cases"), [(0, 5), (7, 4)])
def test_nv_15_fewest_cases_of_six_for_95_percent(on_hand: float, cases: int) -> None:
    values, weights = supports.poisson(20)
    one = line(
        daily({4: values}, len(values)), between=(4, 5), stock=[(on_hand, None)], sold=offer(6)
    )
    decision = decided(one, weights)
    assert decision.cases == cases
    assert decision.reasons.raw_need == 28 - on_hand


@pytest.mark.parametrize(("qty", "below"), [(27, 0.9475193), (28, 0.9656665)])
def test_nv_15_chance_that_a_quantity_lasts(qty: float, below: float) -> None:
    values, weights = supports.poisson(20)
    one = line(daily({4: values}, len(values)), between=(4, 5), stock=[(qty, None)])
    short = decided(one, weights).reasons.stockout_chance_without
    assert 1 - short == pytest.approx(below, rel=1e-6)


def test_nv_17_nothing_to_lose_or_nothing_wanted_orders_nothing() -> None:
    support = supports.poisson(5)
    assert decided(one_day(support, 1, 0), support[1]).cases == 0
    never: Support = (np.zeros(3), np.full(3, 1 / 3))
    assert decided(one_day(never, 1, 4), never[1]).cases == 0
    assert decided(one_day(never, 0, 4), never[1]).cases == 0


def test_nv_17_free_leftovers_are_bought_up_to_the_largest_demand_and_no_further() -> None:
    support = supports.listed([3, 8], [0.9, 0.1])
    assert decided(one_day(support, 0, 1), support[1]).cases == 8


# inventory-theory.md, 5.1: expected waste of a lot used first expired first, exact.
@pytest.mark.parametrize(
    ("stock", "ordered", "life", "waste"),
    [
        (0, 4, 0, 0.7814673),  # PE-01, Poisson 4 a day
        (0, 5, 0, 1.4103042),
        (0, 6, 0, 2.1954346),
        (0, 6, 1, 0.3503566),  # PE-03: old units last one day, fresh ones two
        (4, 6, 1, 1.7066509),
        (0, 8, 1, 1.1166922),
        (4, 8, 1, 3.3598318),
        (8, 8, 1, 4.0031802),
        (0, 4, 1, 0.059489),  # PE-04
        (0, 10, 1, 2.425864),
        (0, 12, 1, 4.129826),
    ],
)
def test_pe_expected_waste_of_the_new_lot(
    stock: float, ordered: float, life: int, waste: float
) -> None:
    (first, second), weights = supports.days(*supports.poisson(4), 2)
    one = line(
        daily({4: first, 5: second}, len(weights)),
        between=(4, 6),
        stock=[(stock, 4)],
        life=life,
        basis="fixed",
        par=stock + ordered,
        sold=offer(1),
    )
    found = decided(one, weights).reasons
    assert found.expected_waste == pytest.approx(waste, rel=1e-5)
