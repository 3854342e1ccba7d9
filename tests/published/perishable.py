"""Perishable stock, solved exactly: value iteration over every state that can be reached.

Shares nothing with the engine. One place, one item, an order every day. A day: what was ordered
``lead`` days ago arrives, the order is placed, demand is met, what is missing is lost, what has
reached the end of its life is thrown away at night, the rest is held. Timeline and method:
inventory-theory.md, section 5.3 (De Moor, Gijsbrechts and Boute, *EJOR* 301 (2022) 535;
Farrington, Wong, Li and Utley, *Annals of Operations Research* 349 (2025) 1609).

A state is what is on hand after the day's arrival, by nights left (``days`` columns, the first
goes tonight), then what is on its way (``lead`` - 1 columns, the first comes tomorrow).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]
Policy = Callable[[Counts, int], Counts]  # orders (N,) for states (N, columns) on a day of a cycle

BASE = 64  # more than a column ever holds
SAME = 1e-9  # a smaller difference in money is rounding


@dataclass(frozen=True, slots=True)
class Costs:
    """Money per unit. ``held``: for one night; where ``holds_last`` the night on which a unit
    goes counts as well."""

    short: float
    wasted: float
    held: float = 0.0
    ordered: float = 0.0
    holds_last: bool = True


@dataclass(frozen=True)
class Problem:
    """``cycle``: for each day of a cycle the chances of a demand of 0, 1, ... units, equally
    many each day (one day: every day is alike); ``days``: on which a unit serves; ``orders``:
    the counts that may be ordered, ascending from 0; ``most``: units on hand and on order that
    an order may lead to (None: no limit)."""

    cycle: tuple[tuple[float, ...], ...]
    days: int
    lead: int
    orders: tuple[int, ...]
    costs: Costs
    most: int | None = None
    newest_first: bool = False

    @property
    def columns(self) -> int:
        return self.days + self.lead - 1

    @property
    def demands(self) -> range:
        return range(len(self.cycle[0]))

    def chances(self, day: int) -> Floats:
        return np.array(self.cycle[day % len(self.cycle)])

    def issued(self, states: Counts, demand: int) -> Counts:
        """(N, days) what is left on hand of ``states`` after the demand."""
        on_hand = states[:, : self.days]
        if self.newest_first:
            on_hand = on_hand[:, ::-1]
        before = np.cumsum(on_hand, axis=1) - on_hand
        left = on_hand - np.clip(demand - before, 0, on_hand)
        return np.asarray(left[:, ::-1] if self.newest_first else left)

    def morning_after(self, states: Counts, orders: Counts, demand: int) -> Counts:
        """(N,) codes of the states of the next morning."""
        left = self.issued(states, demand)
        return encoded(np.column_stack([left[:, 1:], states[:, self.days :], orders]))

    def allows(self, states: Counts, order: int) -> Bools:
        """(N,) nothing may always be ordered."""
        within = self.most is None or states.sum(axis=1) + order <= self.most
        return np.full(len(states), order == 0) | within

    def cost_of_day(self, states: Counts, day: int = 0) -> Floats:
        """(N,) expected money of the day, the order left out."""
        total, costs = np.zeros(len(states)), self.costs
        there = states[:, : self.days].sum(axis=1)
        for demand, chance in enumerate(self.chances(day)):
            left = self.issued(states, demand)
            held = left.sum(axis=1) - (0 if costs.holds_last else left[:, 0])
            lost = np.maximum(demand - there, 0)
            total += chance * (costs.short * lost + costs.wasted * left[:, 0] + costs.held * held)
        return total

    @cached_property
    def states(self) -> Counts:
        """(N, columns) ascending by code: all that come of the empty state, whatever is ordered
        and demanded."""
        known = fresh = np.zeros(1, dtype=np.int64)
        while len(fresh):
            after = np.concatenate(list(self._mornings_after(decoded(fresh, self.columns))))
            fresh = np.setdiff1d(after, known)
            known = np.union1d(known, fresh)
        return decoded(known, self.columns)

    def _mornings_after(self, states: Counts) -> Iterator[Counts]:
        for order in self.orders:
            part = states[self.allows(states, order)]
            orders = np.full(len(part), order)
            yield from (np.unique(self.morning_after(part, orders, d)) for d in self.demands)


def encoded(states: Counts) -> Counts:
    """(N,) one number for each state, the first column the highest digit."""
    codes = np.zeros(len(states), dtype=np.int64)
    for column in states.T:
        codes = codes * BASE + column
    return codes


def decoded(codes: Counts, columns: int) -> Counts:
    digits = [codes // BASE**place % BASE for place in reversed(range(columns))]
    return np.stack(digits, axis=1)


@dataclass(frozen=True)
class Solution:
    """``orders`` (days of the cycle, N) the best by state, the smallest of equals; ``later``
    alike the discounted value of a state on the next morning. ``a_day``: money a day in the long
    run; ``empty``: discounted money from the empty state."""

    problem: Problem
    orders: Counts
    later: Floats
    a_day: float
    empty: float

    def policy(self, states: Counts, day: int) -> Counts:
        return np.asarray(self.orders[day % len(self.orders), self._places(encoded(states))])

    def regret(self, states: Counts, orders: Counts, day: int) -> Floats:
        """(N,) expected money by which ordering ``orders`` (N,) in ``states`` is dearer than the
        best, if all later orders are the best ones. Added up over the days of any other policy
        this is what it costs more than the optimum (Kakade and Langford, "Approximately optimal
        approximate reinforcement learning", *ICML* 2002, lemma 6.1), chance left out."""
        best = self._from_tomorrow(states, self.policy(states, day), day)
        return self._from_tomorrow(states, orders, day) - best

    def _from_tomorrow(self, states: Counts, orders: Counts, day: int) -> Floats:
        problem = self.problem
        after = [problem.morning_after(states, orders, demand) for demand in problem.demands]
        then = self.later[day % len(self.later), self._places(np.stack(after))]
        return np.asarray(problem.costs.ordered * orders + problem.chances(day) @ then)

    @cached_property
    def _codes(self) -> Counts:
        return encoded(self.problem.states)

    def _places(self, codes: Counts) -> Counts:
        places = np.minimum(np.searchsorted(self._codes, codes), len(self._codes) - 1)
        if (self._codes[places] != codes).any():
            raise ValueError("a state that the problem leaves out")
        return places


def solve(problem: Problem, *, discount: float = 1.0, close: float = 1e-7) -> Solution:
    """Value iteration, cycle by cycle, until the bounds on the value are ``close``, relative
    to the cost of a cycle (Puterman, *Markov Decision Processes*, 1994, sections 6.6.3, 8.5)."""
    following = list(_following(problem))
    length = len(problem.cycle)
    today = [problem.cost_of_day(problem.states, day) for day in range(length)]
    values = np.zeros(len(problem.states))
    orders = np.zeros((length, len(values)), dtype=np.int64)
    later = np.zeros(orders.shape)
    while True:
        before = values
        for day in reversed(range(length)):
            later[day] = discount * values
            table = _cost_of_orders(problem, following, today[day], later[day], day)
            orders[day], values = _smallest_best(problem, table), table.min(axis=0)
        change = values - before
        if np.ptp(change) <= close * change.max():
            break
        if discount == 1:
            values = values - values[0]
    middle = float(change.min() + change.max()) / 2
    ahead = discount**length / (1 - discount**length) * middle if discount < 1 else 0.0
    return Solution(problem, orders, later, middle / length, float(values[0]) + ahead)


def _following(problem: Problem) -> Iterator[npt.NDArray[np.int32]]:
    """For each order (D, N) places of the states of the next morning, -1 where not allowed."""
    states, known = problem.states, encoded(problem.states)
    for order in problem.orders:
        orders = np.full(len(states), order)
        after = np.stack([problem.morning_after(states, orders, d) for d in problem.demands])
        places = np.minimum(np.searchsorted(known, after), len(known) - 1)
        yield np.where(problem.allows(states, order), places, -1).astype(np.int32)


def _cost_of_orders(
    problem: Problem,
    following: list[npt.NDArray[np.int32]],
    today: Floats,
    later: Floats,
    day: int,
) -> Floats:
    """(orders, N) money from here on if so much is ordered."""
    table = np.full((len(following), len(today)), np.inf)
    for row, order, after in zip(table, problem.orders, following, strict=True):
        allowed = after[0] >= 0
        then = problem.chances(day) @ later[after[:, allowed]]
        row[allowed] = today[allowed] + problem.costs.ordered * order + then
    return table


def _smallest_best(problem: Problem, table: Floats) -> Counts:
    lowest = table.min(axis=0)
    best = table <= lowest + SAME * (1 + np.abs(lowest))
    return np.asarray(np.array(problem.orders)[best.argmax(axis=0)])


def costs_of_days(
    problem: Problem, policy: Policy, *, days: int, likely: float = 1e-9
) -> Iterator[float]:
    """Expected money of each day under ``policy`` from the empty state on: the chance of every
    state that it visits is carried forward, states less likely than ``likely`` left out and the
    others scaled up. Exact but for those."""
    codes, weights = np.zeros(1, dtype=np.int64), np.ones(1)
    for day in range(days):
        states = decoded(codes, problem.columns)
        orders = policy(states, day)
        paid = problem.cost_of_day(states, day) + problem.costs.ordered * orders
        yield float(weights @ paid)
        after = [problem.morning_after(states, orders, demand) for demand in problem.demands]
        reached = np.concatenate([chance * weights for chance in problem.chances(day)])
        found, places = np.unique(np.concatenate(after), return_inverse=True)
        sums = np.bincount(places, reached, len(found))
        kept = sums > likely
        codes, weights = found[kept], sums[kept] / sums[kept].sum()


def cost_a_day(
    problem: Problem, policy: Policy, *, warm_up: int = 60, likely: float = 1e-9
) -> float:
    """Money a day in the long run, the mean of two cycles, ten days at least, after
    ``warm_up`` days; perishable stock forgets within a few lives."""
    cycle = len(problem.cycle)
    counted = 2 * cycle if cycle > 1 else 10
    paid = list(costs_of_days(problem, policy, days=warm_up + counted, likely=likely))
    return float(np.mean(paid[-counted:]))
