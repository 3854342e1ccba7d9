"""Lot sizes, price breaks, joint orders, (r, Q) and (s, S), as inventory-theory.md, section 3, has
them: reference formulas apart from the engine, which claims none of them (its orders go by
projected stock, R8 to R13).

``fixed``: money an order; ``held``: money a unit for one unit of time; ``short`` likewise.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from math import sqrt

import numpy as np
from scipy import integrate, stats

Cost = Callable[[float], float]


def economic_quantity(fixed: float, held: float, demand: float) -> float:
    return sqrt(2 * fixed * demand / held)


def cost_of_quantity(qty: float, fixed: float, held: float, demand: float) -> float:
    return fixed * demand / qty + held * qty / 2


@dataclass(frozen=True, slots=True)
class Bought:
    qty: float
    cost: float  # a year, the goods included


def with_price_breaks(
    fixed: float, rate: float, demand: float, tiers: Sequence[tuple[float, float]]
) -> list[Bought]:
    """The best of each tier (least quantity, price of every unit), the cheapest first."""

    def best(least: float, price: float) -> Bought:
        qty = max(least, economic_quantity(fixed, rate * price, demand))
        return Bought(qty, price * demand + cost_of_quantity(qty, fixed, rate * price, demand))

    return sorted((best(*tier) for tier in tiers), key=lambda one: one.cost)


def certain_demand(demand: Sequence[int], fixed: float, held: float) -> tuple[list[int], float]:
    """Orders and cost of the best plan (Wagner and Whitin, *Management Science* 5 (1958) 89)."""
    plans: list[tuple[float, list[int]]] = [(0.0, [])]
    for end in range(1, len(demand) + 1):
        found = []
        for start in range(end):
            carried = sum(held * (n - start) * demand[n] for n in range(start, end))
            order = [sum(demand[start:end]), *[0] * (end - start - 1)]
            found.append((plans[start][0] + fixed + carried, plans[start][1] + order))
        plans.append(min(found))
    return plans[-1][1], plans[-1][0]


@dataclass(frozen=True, slots=True)
class Joint:
    """Orders of several items together: ``fixed`` for each, ``each`` more for an item,
    ``holding`` of an item's use over a unit of time, money."""

    fixed: float
    each: tuple[float, ...]
    holding: tuple[float, ...]

    def cost(self, multiples: Sequence[int]) -> float:
        return sqrt(2 * self._ordering(multiples) * self._holding(multiples))

    def period(self, multiples: Sequence[int]) -> float:
        return sqrt(2 * self._ordering(multiples) / self._holding(multiples))

    def _ordering(self, multiples: Sequence[int]) -> float:
        return self.fixed + sum(a / m for a, m in zip(self.each, multiples, strict=True))

    def _holding(self, multiples: Sequence[int]) -> float:
        return sum(h * m for h, m in zip(self.holding, multiples, strict=True))

    def best(self, largest: int = 5) -> tuple[int, ...]:
        """Every combination tried."""
        every = product(range(1, largest + 1), repeat=len(self.each))
        return min(every, key=lambda multiples: (self.cost(multiples), multiples))

    def heuristic(self) -> tuple[int, ...]:
        """Silver, *Management Science* 22 (1976) 1351: the item with the least a / hD in every
        order, the others by its measure."""
        pairs = list(zip(self.each, self.holding, strict=True))
        first = min(pairs, key=lambda pair: pair[0] / pair[1])
        measure = first[1] / (self.fixed + first[0])
        return tuple(1 if p == first else max(1, round(sqrt(p[0] / p[1] * measure))) for p in pairs)


def can_order(
    positions: Sequence[int], must: Sequence[int], can: Sequence[int], up_to: Sequence[int]
) -> list[int]:
    """Balintfy, *Management Science* 10 (1964) 287: an item at its must-order level opens an
    order, which every item at its can-order level joins."""
    rows = list(zip(positions, must, can, up_to, strict=True))
    if not any(at <= low for at, low, _, _ in rows):
        return [0] * len(rows)
    return [full - at if at <= may else 0 for at, _, may, full in rows]


def normal_cost(mean: float, deviation: float, held: float, short: float) -> Cost:
    """Expected money a unit of time by inventory position."""

    def cost(position: float) -> float:
        z = (position - mean) / deviation
        lost = deviation * (stats.norm.pdf(z) - z * stats.norm.sf(z))
        return float(held * (position - mean + lost) + short * lost)

    return cost


def poisson_cost(mean: float, held: float, short: float) -> Cost:
    """The same for counts."""
    counts = np.arange(int(stats.poisson(mean).isf(1e-15)) + 2)
    chances = stats.poisson(mean).pmf(counts)

    def cost(position: float) -> float:
        over = position - counts
        return float(chances @ np.where(over > 0, held * over, -short * over))

    return cost


def point_and_quantity(point: float, qty: float, fixed: float, demand: float, cost: Cost) -> float:
    """Money a unit of time of (r, Q), continuous."""
    area, _ = integrate.quad(cost, point, point + qty, epsabs=1e-9)
    return float(fixed * demand + area) / qty


def whole_point_and_quantity(fixed: float, demand: float, cost: Cost) -> tuple[int, int, float]:
    """The best (r, Q) in whole units: Q grows by the cheaper neighbour while that is cheaper
    than the mean so far (Federgruen and Zheng, *Operations Research* 40 (1992) 808)."""
    low = high = min(range(200), key=cost)
    total = fixed * demand + cost(low)
    while True:
        qty = high - low + 1
        nearest = min(cost(low - 1), cost(high + 1))
        if nearest >= total / qty:
            return low - 1, qty, total / qty
        low, high = (low - 1, high) if cost(low - 1) <= cost(high + 1) else (low, high + 1)
        total += nearest


def fill_from_point(mean: float, fixed: float, cost: Cost) -> tuple[int, int, float]:
    """The best (s, S) of Poisson demand in periods without lead time, every pair tried: cost of
    a cycle by the renewals of the demand in it."""
    most = int(mean + 10 * sqrt(mean) + sqrt(2 * fixed * mean))
    chances = stats.poisson(mean).pmf(np.arange(most + 1))
    visits = np.zeros(most + 1)
    visits[0] = 1 / (1 - chances[0])
    for j in range(1, most + 1):
        visits[j] = visits[0] * (chances[1 : j + 1] @ visits[j - 1 :: -1])
    money = np.array([cost(level) for level in range(-most, most + 1)])
    found = []
    for full in range(1, most + 1):
        spent = fixed + np.cumsum(visits * money[most + full - np.arange(most + 1)])
        each = spent / np.cumsum(visits)
        gap = int(each[: full + most].argmin())
        found.append((float(each[gap]), full - gap - 1, full))
    lowest, point, full = min(found)
    return point, full, lowest
