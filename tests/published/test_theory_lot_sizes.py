"""Lot sizes, price breaks, joint orders, (r, Q) and (s, S): inventory-theory.md, section 3.

They hold the reference formulas, against which orders of other programs are measured. SS: Snyder
and Shen, *Fundamentals of Supply Chain Theory*, 2nd edition.
"""

from __future__ import annotations

from math import log, sqrt

import pytest
from scipy import optimize

from tests.published import lot_sizes
from tests.published.lot_sizes import Joint, cost_of_quantity, economic_quantity

EQ_01 = (8, 0.225, 1300)  # an order, a unit held for a year, units a year


def test_eq_01_economic_quantity() -> None:
    """SS, example 3.1."""
    best = economic_quantity(*EQ_01)
    assert best == pytest.approx(304.0467800)
    assert cost_of_quantity(best, *EQ_01) == pytest.approx(68.4105255)
    assert cost_of_quantity(250, *EQ_01) == pytest.approx(69.725)


@pytest.mark.parametrize(
    ("share", "ratio"), [(0.5, 1.25), (0.8, 1.025), (1.2, 1.0166667), (1.5, 1.0833333), (2, 1.25)]
)
def test_eq_02_the_cost_is_flat_about_the_best(share: float, ratio: float) -> None:
    best = economic_quantity(*EQ_01)
    found = cost_of_quantity(share * best, *EQ_01) / cost_of_quantity(best, *EQ_01)
    assert found == pytest.approx(ratio, rel=1e-7)


def test_eq_03_periods_that_are_powers_of_two() -> None:
    """Roundy; Muckstadt: at worst, and with the best base period on average."""
    lowest = cost_of_quantity(economic_quantity(*EQ_01), *EQ_01)
    assert economic_quantity(*EQ_01) / 25 == pytest.approx(12.1618712)  # weeks
    for weeks, cost, ratio in ((8, 74.5, 1.0890137), (16, 71.0, 1.0378520)):
        assert cost_of_quantity(25 * weeks, *EQ_01) == pytest.approx(cost)
        assert cost / lowest == pytest.approx(ratio)
    assert (sqrt(2) + 1 / sqrt(2)) / 2 == pytest.approx(1.0606602)
    assert 1 / (sqrt(2) * log(2)) == pytest.approx(1.0201394)


def test_eq_04_with_backorders_at_five() -> None:
    """SS, example 3.8: as if holding cost h b / (h + b)."""
    fixed, held, demand = EQ_01
    share = held / (held + 5)
    best = economic_quantity(fixed, 5 * share, demand)
    assert best == pytest.approx(310.8125552)
    assert share == pytest.approx(0.0430622)
    assert cost_of_quantity(best, fixed, 5 * share, demand) == pytest.approx(66.9213636)


@pytest.mark.parametrize(
    ("fixed", "rate", "demand", "tiers", "qty", "costs"),
    [
        pytest.param(
            8, 0.30, 1300, [(1, 0.75), (400, 0.72), (800, 0.68)], 800,
            [978.60, 1005.20, 1043.4105], id="QD-01 (SS ex. 3.6)",
        ),
        pytest.param(
            2250, 0.25, 182500, [(1, 1490), (1200, 1220), (2400, 1100)], 2400,
            [201251093.75], id="QD-02 (SS pr. 3.12a)",
        ),
        pytest.param(
            12, 0.15, 25000, [(1, 4.40), (800, 4.00), (1200, 3.60)], 1200,
            [90574.00, 100600.00], id="QD-03 (posted exercise, answer ours)",
        ),
    ],
)  # fmt: skip
def test_qd_price_breaks_of_all_units(
    fixed: float,
    rate: float,
    demand: float,
    tiers: list[tuple[float, float]],
    qty: float,
    costs: list[float],
) -> None:
    found = lot_sizes.with_price_breaks(fixed, rate, demand, tiers)
    assert found[0].qty == qty
    assert [one.cost for one in found][: len(costs)] == pytest.approx(costs, rel=1e-6)


@pytest.mark.parametrize(
    ("demand", "fixed", "held", "orders", "cost"),
    [
        pytest.param([90, 120, 80, 70], 500, 2, [210, 0, 150, 0], 1380, id="SS ex. 3.9"),
        pytest.param([150, 100, 80, 200], 120, 0.8, [150, 180, 0, 200], 424, id="SS pr. 3.27"),
        pytest.param(
            [730, 580, 445, 650, 880], 100, 0.1, [1310, 0, 1095, 0, 880], 423, id="SS pr. 3.29"
        ),
    ],
)
def test_ww_01_certain_demand(
    demand: list[int], fixed: float, held: float, orders: list[int], cost: float
) -> None:
    plan, spent = lot_sizes.certain_demand(demand, fixed, held)
    assert plan == orders
    assert spent == pytest.approx(cost)


JOINT = {
    "JR-01 (SS companion)": Joint(600, (120, 840, 300), (160, 20, 50)),
    "JR-02 (Silver, Pyke and Peterson 1998)": Joint(
        40, (15,) * 4, tuple(0.24 * use for use in (86000, 12500, 1400, 3000))
    ),
    "JR-03 (Silver 1976)": Joint(
        10, (1.87, 5.27, 7.94, 8.19, 8.87), tuple(0.2 * use for use in (1736, 656, 558, 170, 142))
    ),
}


@pytest.mark.parametrize(
    ("name", "multiples", "period", "cost"),
    [
        ("JR-01 (SS companion)", (1, 3, 1), 3.1031645, 837.8544026),
        ("JR-02 (Silver, Pyke and Peterson 1998)", (1, 1, 4, 3), 0.0761734, 2067.6508409),
        ("JR-03 (Silver 1976)", (1, 1, 2, 3, 3), 0.2455576, 218.2515857),
    ],
)
def test_jr_joint_orders(name: str, multiples: tuple[int, ...], period: float, cost: float) -> None:
    joint = JOINT[name]
    assert joint.best() == multiples
    assert joint.period(multiples) == pytest.approx(period, rel=1e-6)
    assert joint.cost(multiples) == pytest.approx(cost)


def test_jr_01_the_heuristic_finds_the_best() -> None:
    joint = JOINT["JR-01 (SS companion)"]
    assert joint.heuristic() == joint.best()


def test_jr_03_the_heuristic_is_a_little_dearer() -> None:
    joint = JOINT["JR-03 (Silver 1976)"]
    assert joint.heuristic() == (1, 1, 1, 3, 3)
    assert joint.cost(joint.heuristic()) == pytest.approx(218.6863203)


def test_jr_04_an_order_that_one_item_opens_is_joined_by_those_that_can() -> None:
    """Balintfy 1964; numbers our own."""
    assert lot_sizes.can_order([3, 9, 20], [4] * 3, [10] * 3, [24] * 3) == [21, 15, 0]
    assert lot_sizes.can_order([5, 9, 20], [4] * 3, [10] * 3, [24] * 3) == [0, 0, 0]


RQ_COST = lot_sizes.normal_cost(1300 / 12, 150 / sqrt(12), 0.225, 7.5)


def rq(point: float, qty: float) -> float:
    return lot_sizes.point_and_quantity(point, qty, 8, 1300, RQ_COST)


def test_rq_01_the_best_point_and_quantity() -> None:
    """SS, examples 5.1 and 5.6."""
    found = optimize.minimize(
        lambda x: rq(*x),
        (130.0, 300.0),
        method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-11},
    )
    assert found.x == pytest.approx([126.8671, 328.4491], abs=1e-3)
    assert found.fun == pytest.approx(78.0711463, rel=1e-8)


@pytest.mark.parametrize(
    ("point", "qty", "cost"),
    [
        pytest.param(126.8, 328.5, 78.0711625, id="RQ-01"),
        pytest.param(100, 250, 87.3464780, id="RQ-01"),
        pytest.param(213.9704, 318.5902, 92.2868767, id="RQ-02 expected level (SS ex. 5.2)"),
        pytest.param(128.6378, 308.5738, 78.2024319, id="RQ-02 with backorders (SS ex. 5.4)"),
        pytest.param(190.3370, 304.0468, 87.0483700, id="RQ-02 and safety stock (SS ex. 5.5)"),
    ],
)
def test_rq_the_cost_of_a_point_and_quantity(point: float, qty: float, cost: float) -> None:
    assert rq(point, qty) == pytest.approx(cost, rel=1e-6)


@pytest.mark.parametrize(
    ("lead", "demand", "held", "short", "fixed", "expected"),
    [
        pytest.param(3, 1.5, 20, 150, 100, (3, 5, 107.9235806), id="SS ex. 5.8"),
        pytest.param(6, 12, 4, 28, 4, (6, 7, 28.2413128), id="SS pr. 5.2"),
    ],
)
def test_rq_03_whole_units(
    lead: float,
    demand: float,
    held: float,
    short: float,
    fixed: float,
    expected: tuple[int, int, float],
) -> None:
    cost = lot_sizes.poisson_cost(lead, held, short)
    point, qty, lowest = lot_sizes.whole_point_and_quantity(fixed, demand, cost)
    assert (point, qty) == expected[:2]
    assert lowest == pytest.approx(expected[2])


@pytest.mark.parametrize(
    ("mean", "held", "short", "fixed", "expected"),
    [
        pytest.param(6, 1, 4, 5, (4, 10, 8.0341116), id="SP-01 (SS ex. 4.7)"),
        pytest.param(4, 40, 125, 150, (2, 7, 223.5748296), id="SP-01 (SS pr. 4.31)"),
        pytest.param(10, 1, 9, 64, (6, 40, 35.022), id="SP-02 (Zheng and Federgruen 1991)"),
        pytest.param(15, 1, 9, 64, (10, 49, 42.698), id="SP-02, 15"),
        pytest.param(20, 1, 9, 64, (14, 62, 49.173), id="SP-02, 20"),
        pytest.param(25, 1, 9, 64, (19, 56, 54.262), id="SP-02, 25"),
    ],
)
def test_sp_fill_up_from_a_point(
    mean: float, held: float, short: float, fixed: float, expected: tuple[int, int, float]
) -> None:
    cost = lot_sizes.poisson_cost(mean, held, short)
    point, full, lowest = lot_sizes.fill_from_point(mean, fixed, cost)
    assert (point, full) == expected[:2]
    assert lowest == pytest.approx(expected[2], abs=1e-3)
