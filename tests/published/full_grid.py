"""Perishable stock solved on the full grid of its states, for those too many to list one by one.

The model, and the words, are those of perishable.py; every column holds 0 to the largest order,
and any order may be placed. What demand and the night make of the stock on hand is one sparse
matrix: it knows nothing of what is ordered or on its way, so a step costs a product of matrices.

V: values as (on hand of the next morning but for what arrives, what arrives and is on its way).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from scipy import sparse

from tests.published.perishable import SAME, Costs, Counts, Floats, Problem

STEADY = 1e-10  # the chances of states have settled where they move no more than this in all


@dataclass(frozen=True)
class Grid:
    """``chances`` of a demand of 0, 1, ...; orders of 0 to ``largest``."""

    chances: tuple[float, ...]
    days: int
    lead: int
    largest: int
    costs: Costs
    newest_first: bool = False

    @property
    def size(self) -> int:
        return self.largest + 1

    @property
    def period(self) -> int:
        """Days after which the orders of a policy may come back."""
        return self.lead + 1

    @property
    def problem(self) -> Problem:
        """The same with its states listed."""
        orders = tuple(range(self.size))
        newest = self.newest_first
        return Problem((self.chances,), self.days, self.lead, orders, self.costs, None, newest)

    @property
    def on_hand(self) -> Counts:
        """(H, days) every stock on hand, the column that goes tonight first."""
        places = np.arange(self.size**self.days)
        return np.stack(np.unravel_index(places, (self.size,) * self.days), axis=1)

    @cached_property
    def night(self) -> sparse.csr_array:
        return night_of(self.chances, self.days, self.largest, self.newest_first)

    @cached_property
    def today(self) -> Floats:
        """(H,) money of the day, the order left out."""
        return self.problem.cost_of_day(self.on_hand)

    def following(self, values: Floats) -> Floats:
        """(H, what is on its way, orders) expected value of the next morning."""
        ahead = self.night @ values.reshape(self.night.shape[1], -1)
        return np.asarray(ahead).reshape(len(self.on_hand), -1, self.size)

    def paid(self, orders: Counts) -> Floats:
        """(H, what is on its way) money of the day with ``orders``, alike."""
        return self.today[:, None] + self.costs.ordered * orders


@cache
def night_of(
    chances: tuple[float, ...], days: int, largest: int, newest_first: bool
) -> sparse.csr_array:
    """(H, stocks of the other days) chances of what is left after demand and the night."""
    grid = Grid(chances, days, 1, largest, Costs(0, 0), newest_first)
    digits = grid.size ** np.arange(days - 1)[::-1]
    left = [grid.problem.issued(grid.on_hand, demand) for demand in range(len(chances))]
    places = np.concatenate([each[:, 1:] @ digits for each in left])
    rows = np.tile(np.arange(len(grid.on_hand)), len(chances))
    shape = (len(grid.on_hand), grid.size ** (days - 1))
    cells = np.repeat(chances, len(grid.on_hand))
    return sparse.coo_array((cells, (rows, places)), shape=shape).tocsr()


@dataclass(frozen=True)
class GridSolution:
    """``orders`` (H, what is on its way), the smallest of equals. ``a_day``: money a day in the
    long run; ``empty``: discounted money from the empty state."""

    grid: Grid
    orders: Counts
    a_day: float
    empty: float

    def year(self, *, warm_up: int, days: int, discount: float) -> float:
        """Expected discounted money of ``days`` days after ``warm_up`` days from empty."""
        paid = self._daily(warm_up + days)[warm_up:]
        return float(paid @ discount ** np.arange(days))

    def _daily(self, days: int) -> Floats:
        """(days,) expected money of each; once the chances of the states are those of a period
        before, days go on like those of the last one."""
        grid, money = self.grid, np.zeros(days)
        paid, chances = grid.paid(self.orders), np.zeros(self.orders.shape)
        chances[0, 0] = 1.0
        earlier = deque([chances], grid.period + 1)
        for day in range(days):
            money[day] = (paid * chances).sum()
            chances = self._morning_after(chances)
            earlier.append(chances)
            if np.abs(chances - earlier[0]).sum() < STEADY:
                rest = np.arange(day + 1, days)
                money[rest] = money[day + 1 - grid.period + (rest - day - 1) % grid.period]
                break
        return money

    def _morning_after(self, chances: Floats) -> Floats:
        grid = self.grid
        placed = np.zeros((*chances.shape, grid.size))
        np.put_along_axis(placed, self.orders[:, :, None], chances[:, :, None], axis=2)
        return np.asarray(grid.night.T @ placed.reshape(len(placed), -1)).reshape(chances.shape)


def solve_grid(grid: Grid, *, discount: float = 1.0, close: float = 1e-7) -> GridSolution:
    """Value iteration until the bounds on the answer are ``close``, relative to it. They are
    those of perishable.solve, taken over a period of orders: issued newest first, the best ones
    come back every so many days."""
    ordered = grid.costs.ordered * np.arange(grid.size)
    share = discount**grid.period
    ahead = share / (1 - share) if discount < 1 else 0.0
    values = np.zeros((len(grid.on_hand), grid.size ** (grid.lead - 1)))
    earlier = deque([values], grid.period + 1)
    while True:
        table = discount * grid.following(values) + ordered
        values = grid.today[:, None] + table.min(axis=2)
        earlier.append(values)
        change = values - earlier[0]
        answer = values[0, 0] * (1 - share) if discount < 1 else change.max()
        if len(earlier) > grid.period and np.ptp(change) * share <= close * answer:
            break
    lowest = table.min(axis=2, keepdims=True)
    orders = (table <= lowest + SAME * (1 + np.abs(lowest))).argmax(axis=2)
    middle = float(change.min() + change.max()) / 2
    return GridSolution(grid, orders, middle / grid.period, float(values[0, 0]) + ahead * middle)
