"""Expected waste of two days' life (inventory-theory.md, PE-02 and PE-05), through the projection
that a run uses.

Form: Nahmias and Pierskalla 1973, Fries 1975; the figures are our own.
"""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from inventory.engine.projection import Floats, project
from tests.published import supports
from tests.purchasing.engine.line_scenes import daily, decided, line, offer

MEAN = 4.0
CELLS = 700  # equal slices of a day's distribution


def exponential() -> Floats:
    """(CELLS,) each at its mean: what lies between two edges of equal chance."""
    chance = np.arange(CELLS + 1) / CELLS
    left = 1 - chance[:-1]
    right = np.append(1 - chance[1:-1], 0.0)
    beyond = [each * (1 - np.log(each)) if each else 0.0 for each in (*left, right[-1])]
    return np.asarray(MEAN * CELLS * -np.diff(beyond))


@pytest.mark.parametrize(
    ("old", "fresh", "waste"),
    [(0, 6, 1.1238222), (4, 6, 2.2418529), (10, 6, 2.7473370), (4, 12, 7.0206807)],
)
def test_pe_02_exponential_demand(old: float, fresh: float, waste: float) -> None:
    """Closed form, and the same of a line with that much ordered."""
    a = 1 / MEAN
    closed = fresh - (1 - exp(-a * fresh)) / a
    closed -= exp(-a * old) * (1 - exp(-a * fresh) * (1 + a * fresh)) / a
    assert closed == pytest.approx(waste, rel=1e-7)
    values = exponential()
    first, second = np.repeat(values, CELLS), np.tile(values, CELLS)
    one = line(
        daily({4: first, 5: second}, len(first)),
        between=(4, 6),
        stock=[(old, 4)],
        life=1,
        basis="fixed",
        par=old + fresh,
        sold=offer(1),
    )
    found = decided(one, np.full(len(first), 1 / len(first))).reasons
    assert found.expected_waste == pytest.approx(waste, rel=1e-4)


def a_day(target: int, *, newest_first: bool) -> tuple[float, float]:
    """Units wasted and lost a day in the long run: filled up to ``target`` each morning, what is
    two days old in the evening goes. One column is what was left of yesterday's."""
    demand, chances = supports.poisson(MEAN)
    moves = np.zeros((target + 1, target + 1))
    wasted, lost = np.zeros(target + 1), np.zeros(target + 1)
    for old in range(target + 1):
        lots = np.array([[old, target - old]], dtype=float)
        shelf = lots[:, ::-1] if newest_first else lots
        found = project(shelf, np.ones((1, 1, 2), dtype=np.bool_), demand[None, None])
        goes, stays = found.left[0][::-1] if newest_first else found.left[0]
        wasted[old], lost[old] = goes @ chances, found.short[0, 0] @ chances
        np.add.at(moves[old], stays.astype(int), chances)
    equations = np.vstack([moves.T - np.eye(target + 1), np.ones(target + 1)])
    often = np.linalg.lstsq(equations, np.r_[np.zeros(target + 1), 1.0], rcond=None)[0]
    return float(often @ wasted), float(often @ lost)


@pytest.mark.parametrize(
    ("target", "oldest_first", "newest_first", "lost"),
    [
        (4, 0.049623, 0.193790, 0.781467),
        (6, 0.248536, 0.823643, 0.195435),
        (8, 0.684584, 1.762942, 0.033627),
        (10, 1.343467, 2.791121, 0.004131),
    ],
)
def test_pe_05_a_par_of_two_days_life(
    target: int, oldest_first: float, newest_first: float, lost: float
) -> None:
    """Waste grows fast with the par, and with the newest used first three times as fast; what
    is lost is the same."""
    by_age = [a_day(target, newest_first=each) for each in (False, True)]
    assert [wasted for wasted, _ in by_age] == pytest.approx([oldest_first, newest_first], abs=1e-6)
    assert [missed for _, missed in by_age] == pytest.approx([lost, lost], abs=1e-6)
