"""Rotation, inventory-theory.md section 8: lots A 10, B 6 and C 8, by hand."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import permutations

import numpy as np
import pytest

from inventory.engine.draws import NO_HOUR, Draws
from inventory.engine.fefo import LotOnHand, pick
from inventory.engine.kitchen import StockLot
from inventory.engine.projection import Lots, project
from tests.inventory.engine.small_kitchens import CLOCK, at

DAYS = [date(2026, 3, number) for number in range(5, 11)]
USAGE = dict(zip(DAYS, (4, 5, 3, 4, 2, 3), strict=True))
USE_BY = {"A": date(2026, 3, 8), "B": date(2026, 3, 6), "C": date(2026, 3, 10)}
RECEIVED = {"A": date(2026, 3, 2), "B": date(2026, 3, 4), "C": date(2026, 3, 5)}
HELD = {"A": 10, "B": 6, "C": 8}


def on_shelf(held: dict[str, Decimal]) -> list[LotOnHand]:
    return [LotOnHand(name, qty, USE_BY[name], RECEIVED[name], name) for name, qty in held.items()]


def used(held: dict[str, Decimal], day: date, qty: int) -> str:
    """Such as ``B2 A3``; ``held`` is what is left afterwards."""
    picked = pick(on_shelf(held), Decimal(qty), day)
    for one in picked.picks:
        held[str(one.key)] -= one.qty
    return " ".join(f"{one.key}{one.qty}" for one in picked.picks)


def whole() -> dict[str, Decimal]:
    return {name: Decimal(qty) for name, qty in HELD.items()}


def test_rt_01_first_expired_first_out() -> None:
    held = whole()
    found = [used(held, day, USAGE[day]) for day in DAYS]
    assert found == ["B4", "B2 A3", "A3", "A4", "C2", "C3"]
    assert held == {"A": 0, "B": 0, "C": 3}


def test_rt_01_and_rt_04_projected() -> None:
    """The projection leaves C 3, nothing is short, and 24 received = 21 used + 3 expired."""
    stock = [StockLot("COM", "LEEK", HELD[n], USE_BY[n], RECEIVED[n], n) for n in HELD]
    lots = Lots.of(stock, [], clock=CLOCK, as_of=at("03-05 00:00"))
    draws = Draws.of({(NO_HOUR, day, day): np.array([float(USAGE[day])]) for day in DAYS})
    found = project(lots.qty[None], lots.serving(draws)[None], draws.qty[None])
    assert found.left[0, :, 0].tolist() == [0, 0, 3]  # B, A, C: in order of use
    assert not found.short.any()
    assert sum(HELD.values()) == sum(USAGE.values()) + found.left.sum()


def lived(order: str) -> tuple[list[str], float, list[float]]:
    """By another order of issue: what is used each day, what is left of all lots at their use-by,
    and what each day is short of. A lot serves until its use-by."""
    usage = np.array([float(USAGE[day]) for day in DAYS])
    serves = np.array([[RECEIVED[n] <= day <= USE_BY[n] for n in order] for day in DAYS])
    left = np.array([float(HELD[n]) for n in order])
    days, short = list[str](), list[float]()
    for wanted, there in zip(usage, serves, strict=True):
        found = project(left[None], there[None, None], np.array([[[wanted]]]))
        taken = left - found.left[0, :, 0]
        left = found.left[0, :, 0]
        short.append(float(found.short[0, 0, 0]))
        days.append(" ".join(f"{n}{qty:.0f}" for n, qty in zip(order, taken, strict=True) if qty))
    return days, float(left.sum()), short


@pytest.mark.parametrize(
    ("order", "days", "expired", "short"),
    [
        pytest.param(
            "ABC", ["A4", "A5", "A1 C2", "C4", "C2", ""], 6, [0, 0, 0, 0, 0, 3],
            id="RT-02 first in first out",
        ),
        pytest.param(
            "CBA", ["C4", "C4 B1", "A3", "A4", "", ""], 8, [0, 0, 0, 0, 2, 3],
            id="RT-03 last in first out",
        ),
        pytest.param("BAC", ["B4", "B2 A3", "A3", "A4", "C2", "C3"], 3, [0] * 6, id="RT-01"),
    ],
)  # fmt: skip
def test_rt_other_orders_of_issue_on_the_same_days(
    order: str, days: list[str], expired: float, short: list[float]
) -> None:
    assert lived(order) == (days, expired, short)
    assert sum(HELD.values()) == sum(USAGE.values()) - sum(short) + expired  # RT-04


def test_rt_08_no_other_order_of_issue_expires_or_misses_less() -> None:
    found = {"".join(order): lived("".join(order)) for order in permutations("ABC")}
    _, expired, short = found["BAC"]
    assert all(expired <= more for _, more, _ in found.values())
    assert all(sum(short) <= sum(missed) for _, _, missed in found.values())


@pytest.mark.parametrize("other", ["earlier receipt", "strip"])
def test_rt_05_equal_use_by(other: str) -> None:
    """Earlier receipt first, then lot code."""
    last = date(2026, 3, 8)
    came = date(2026, 3, 2 if other == "strip" else 3)
    lots = [
        LotOnHand("first", Decimal(1), last, date(2026, 3, 2), "R1"),
        LotOnHand("then", Decimal(1), last, came, "R2" if other == "strip" else "R0"),
    ]
    for held in (lots, lots[::-1]):
        assert [one.key for one in pick(held, Decimal(1), last).picks] == ["first"]


def test_rt_06_undated_comes_after_every_dated_lot() -> None:
    lots = [
        LotOnHand("undated", Decimal(5), None, date(2026, 1, 1), "R1"),
        LotOnHand("dated", Decimal(5), date(2027, 1, 1), date(2026, 3, 1), "R2"),
    ]
    taken = [(one.key, one.qty) for one in pick(lots, Decimal(7), DAYS[0]).picks]
    assert taken == [("dated", Decimal(5)), ("undated", Decimal(2))]


def test_rt_07_a_lot_on_hold_is_no_stock() -> None:
    held = whole()
    assert used(held, DAYS[0], USAGE[DAYS[0]]) == "B4"
    del held["B"]
    assert used(held, DAYS[1], USAGE[DAYS[1]]) == "A5"
