"""Chance and amount of waste, against exact published values."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from inventory.engine.draws import NO_HOUR, Draws
from inventory.engine.kitchen import Coming, StockLot
from inventory.engine.projection import Floats
from inventory.engine.waste_risk import Risk, waste_risks
from tests.inventory.engine.small_kitchens import CLOCK, at
from tests.published.supports import poisson

FIRST = date(2026, 3, 2)


def day(number: int) -> date:
    """Day 1 is the first."""
    return FIRST + timedelta(days=number - 1)


def lot(qty: float, use_by: int | None, strip: str = "") -> StockLot:
    last = None if use_by is None else day(use_by)
    return StockLot("COM", "LEEK", qty, last, FIRST, strip or f"{qty}-{use_by}")


def every_path(mean: float, days: int) -> tuple[Draws, Floats]:
    """Independent Poisson demand on each day: every combination, with its weight."""
    values, weights = poisson(mean)
    values, weights = values[:22], weights[:22]
    grids = np.meshgrid(*[np.arange(len(values))] * days, indexing="ij")
    chosen = np.stack([grid.ravel() for grid in grids])
    draws = {(NO_HOUR, day(n + 1), day(n + 1)): values[chosen[n]] for n in range(days)}
    joint = np.prod(weights[chosen], axis=0)
    return Draws.of(draws), joint / joint.sum()


def risks(
    lots: list[StockLot], draws: Draws, weights: Floats, coming: list[Coming] | None = None
) -> list[Risk]:
    as_of = at("03-02 00:00")
    return waste_risks(lots, coming or [], draws, weights, clock=CLOCK, as_of=as_of)


def test_pe_06_three_lots_drawn_first_expired_first() -> None:
    """inventory-theory.md, PE-06: lots 5, 6, 8 with use-by day 1, 2, 4; Poisson 4 a day."""
    found = risks([lot(5, 1), lot(6, 2), lot(8, 4)], *every_path(4, 4))
    assert [risk.expected for risk in found] == pytest.approx(
        [1.4103042, 1.9290897, 1.0021230], abs=2e-6
    )
    assert [risk.chance for risk in found] == pytest.approx(
        [0.6288369, 0.7161578, 0.4131247], abs=2e-6
    )


@pytest.mark.parametrize(
    ("qty", "waste", "chance"),
    [
        (4, 0.059489, 0.042380),
        (6, 0.350357, 0.191236),
        (8, 1.116692, 0.452961),
        (10, 2.425864, 0.716624),
        (12, 4.129826, 0.888076),
    ],
)
def test_pe_04_one_fresh_lot_with_two_days_to_go(qty: float, waste: float, chance: float) -> None:
    """inventory-theory.md, PE-04: Poisson 4 a day."""
    (risk,) = risks([lot(qty, 2)], *every_path(4, 2))
    assert (risk.expected, risk.chance) == pytest.approx((waste, chance), abs=1e-6)


def test_pe_07_a_lot_that_leaves_never_raises_the_waste_of_others() -> None:
    """inventory-theory.md, PE-07: without the first lot it is the case of two lots."""
    draws, weights = every_path(4, 4)
    three = risks([lot(5, 1), lot(6, 2), lot(8, 4)], draws, weights)
    two = risks([lot(6, 2), lot(8, 4)], draws, weights)
    for before, after in zip(three[1:], two, strict=True):
        assert after.lot == before.lot
        assert after.expected <= before.expected
        assert after.chance <= before.chance + 1e-12


def test_a_lot_without_use_by_is_at_no_risk() -> None:
    (risk,) = risks([lot(100, None)], *every_path(4, 1))
    assert (risk.expected, risk.chance) == (0, 0)


def test_what_is_coming_is_drawn_first_where_it_expires_first() -> None:
    arriving = Coming("COM", "LEEK", day(1), 4, day(1))
    draws, weights = Draws.of({(NO_HOUR, day(1), day(1)): np.array([6.0])}), np.array([1.0])
    (risk,) = risks([lot(5, 2)], draws, weights, [arriving])
    assert (risk.expected, risk.chance) == (3, 1)


def test_less_than_a_millionth_is_no_waste() -> None:
    draws, weights = Draws.of({(NO_HOUR, day(1), day(1)): np.array([5 - 1e-7])}), np.array([1.0])
    (risk,) = risks([lot(5, 1)], draws, weights)
    assert risk.chance == 0
