"""The basis cost against the optimum, on perishable stock with known demand.

    python -m tests.benchmarks.perishable [--demand poisson|lumpy|slow|weekly|rising]

Shelf lives of 1, 2, 3, 5 and 7 days after receipt, a lead of 1 and 2 days, cases of 1 and 4, an
order every day, lost sales, oldest first. A unit costs 2, missing one 4, holding one 25 % a year.
The optimum is that of value iteration over every state (tests/published/perishable.py), so it is
exact everywhere. Every rule is measured exactly, too: the chances of all states that it visits,
carried forward until they no longer change; only the sample paths of a run (1,000, stratified by
day) are drawn at random, a fresh draw each day as in life, of which there are ``--draws``. Rules
and optimum know the demand.

``R10 alone`` is the cost of one order to its own use-by, with no later orders in view. Rivals:
the mean and a quarter more, expected outdating (EWA) and old-inventory ratio as rules.md and
inventory-theory.md have them, at a service level of 0.95; a run by forecast at that level. ``best
par`` is the base stock in cases that does best on the case itself: a bound, as nobody knows it.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from math import sqrt
from statistics import NormalDist
from time import process_time

import numpy as np
from scipy import stats

from inventory.engine.draws import Draws
from purchasing.engine.lines import LaterOrder, Line
from purchasing.engine.quantities import decide_lines
from tests.published import rivals
from tests.published.perishable import (
    Costs,
    Counts,
    Policy,
    Problem,
    cost_a_day,
    encoded,
    solve,
)
from tests.purchasing.engine.line_scenes import daily, line, march, offer

SEED, PATHS, DRAWS = 20260302, 1000, 5
COSTS = Costs(short=4, wasted=2, held=2 * 0.25 / 365)
LEVEL = 0.95
FIRST = 2  # as of Monday 2 March
DAYS_OF_PATHS = 40
RARE = 1e-6  # states less likely than this are left out

Chances = tuple[float, ...]


@dataclass(frozen=True)
class Case:
    """``cycle``: chances of a demand of 0, 1, ... on each day of a cycle."""

    life: int
    lead: int
    size: int
    cycle: tuple[Chances, ...]

    @property
    def problem(self) -> Problem:
        """With orders and stock beyond what is ever worth while left out."""
        busiest = max(self.cycle, key=mean_of)
        most = _nearly_all(busiest, self.lead + 1) + self.size
        largest = max(_nearly_all(busiest, 1) + 2, 2 * self.size)
        orders = tuple(range(0, largest + 1, self.size))
        return Problem(self.cycle, self.life + 1, self.lead, orders, COSTS, most)

    @property
    def mean(self) -> float:
        return float(np.mean([mean_of(chances) for chances in self.cycle]))

    def means(self, day: int, days: int) -> float:
        """Mean demand of ``days`` days from ``day`` of the cycle."""
        ahead = (self.cycle[(day + n) % len(self.cycle)] for n in range(days))
        return sum(mean_of(chances) for chances in ahead)

    @property
    def safety(self) -> float:
        """For lead and review at the service level."""
        spread = np.mean([variance_of(chances) for chances in self.cycle])
        return NormalDist().inv_cdf(LEVEL) * sqrt(float(spread) * (self.lead + 1))


def mean_of(chances: Chances) -> float:
    return float(np.dot(range(len(chances)), chances))


def variance_of(chances: Chances) -> float:
    return float(np.dot(np.arange(len(chances)) ** 2, chances)) - mean_of(chances) ** 2


def _nearly_all(chances: Chances, days: int) -> int:
    """Demand of so many days that is exceeded once in 500 times."""
    total = np.ones(1)
    for _ in range(days):
        total = np.convolve(total, chances)
    return int(np.searchsorted(np.cumsum(total), 0.998))


def poisson(mean: float) -> Chances:
    return _counts(stats.poisson(mean))


def lumpy(mean: float) -> Chances:
    """Negative binomial of three times the variance."""
    return _counts(stats.nbinom(mean / 2, 1 / 3))


def _counts(frozen: stats.rv_frozen) -> Chances:
    chances = frozen.pmf(np.arange(int(frozen.isf(1e-5)) + 2))
    return tuple((chances / chances.sum()).tolist())


# Mean demand a day by life: less for goods that keep, so that waste stays in play.
MEANS = {1: 4.0, 2: 3.0, 3: 2.0, 5: 1.5, 7: 1.0}
WEEK = (0.5, 0.5, 0.75, 0.75, 1.0, 2.0, 1.5)


def same_every_day(of: Callable[[float], Chances], scale: float = 1) -> Iterator[Case]:
    for life, mean in MEANS.items():
        for lead in (1, 2):
            for size in (1, 4):
                yield Case(life, lead, size, (of(scale * mean),))


def changing(shares: Sequence[float], life: int, mean: float) -> Iterator[Case]:
    days = [poisson(mean * share) for share in shares]
    longest = max(map(len, days))
    cycle = tuple((*chances, *[0.0] * (longest - len(chances))) for chances in days)
    yield from (Case(life, 1, size, cycle) for size in (1, 4))


# Weekly: quiet Mondays, busy weekends. Rising: a fortnight whose second week is twice the first.
DEMANDS: dict[str, Callable[[], Iterator[Case]]] = {
    "poisson": lambda: same_every_day(poisson),
    "lumpy": lambda: same_every_day(lumpy),
    "slow": lambda: same_every_day(poisson, 0.4),
    "weekly": lambda: changing(WEEK, 2, 3.0),
    "rising": lambda: changing([*[2 / 3] * 7, *[4 / 3] * 7], 2, 3.0),
}


@dataclass
class ByRun:
    """What a run orders: the decision of a line on that basis, remembered by state, day of the
    cycle and draw of the paths."""

    case: Case
    basis: str = "cost"
    in_view: bool = True
    seed: int = SEED
    paths: int = PATHS
    draws: int = DRAWS
    known: dict[tuple[int, int, int], int] = field(default_factory=dict)
    seconds: float = 0.0

    def __call__(self, states: Counts, day: int) -> Counts:
        phase, draw = day % len(self.case.cycle), day % self.draws
        keys = [(phase, draw, code) for code in encoded(states).tolist()]
        fresh = [i for i, key in enumerate(keys) if key not in self.known]
        use = self._use(phase, draw) if fresh else None
        lines = [self._line(states[i].tolist(), use) for i in fresh if use is not None]
        started = process_time()
        decisions = decide_lines(lines, np.full(self.paths, 1 / self.paths))
        self.seconds += process_time() - started
        self.known.update({keys[i]: int(one.qty) for i, one in zip(fresh, decisions, strict=True)})
        return np.array([self.known[key] for key in keys])

    def _use(self, phase: int, draw: int) -> Draws:
        """Every day in equal slices of its distribution, in an order of its own."""
        slices = (np.arange(self.paths) + 0.5) / self.paths
        rng, use = np.random.default_rng([self.seed, draw]), {}
        for ahead in range(DAYS_OF_PATHS):
            chances = self.case.cycle[(phase + ahead) % len(self.case.cycle)]
            use[FIRST + ahead] = rng.permutation(np.searchsorted(np.cumsum(chances), slices))
        return daily(use, self.paths)

    def _line(self, state: list[int], use: Draws) -> Line:
        case, days = self.case, self.case.life + 1
        comes = FIRST + case.lead
        later = [LaterOrder(march(FIRST + n), march(comes + n)) for n in range(1, DAYS_OF_PATHS)]
        return line(
            use,
            stock=[(qty, FIRST + left) for left, qty in enumerate(state[:days]) if qty],
            coming=[
                (FIRST + n, qty, FIRST + n + case.life)
                for n, qty in enumerate(state[days:], start=1)
                if qty
            ],
            between=(comes, comes + 1),
            basis=self.basis,
            level=LEVEL,
            life=case.life,
            sold=offer(case.size, str(COSTS.wasted * case.size)),
            shortage_cost=COSTS.short,
            holding_rate=COSTS.held * 365 / COSTS.wasted,
            later=tuple(later) if self.in_view else (),
        )


def state_by_state(case: Case, rule: Callable[[list[int], list[int], int], float]) -> Policy:
    """``rule``: what is missing, from stock on hand, on its way, and the day."""
    days, known = case.life + 1, dict[tuple[int, ...], int]()

    def ordered(state: tuple[int, ...], day: int) -> int:
        key = (day % len(case.cycle), *state)
        if key not in known:
            need = rule(list(state[:days]), list(state[days:]), day)
            known[key] = rivals.in_cases(need, case.size)
        return known[key]

    return lambda states, day: np.array([ordered(tuple(s), day) for s in states.tolist()])


def rules_of(case: Case) -> dict[str, Policy]:
    """The rivals by name."""
    cover, safety = case.lead + 1, case.safety

    def mean_and_more(stock: list[int], coming: list[int], day: int) -> float:
        return 1.25 * case.means(day, cover) - sum(stock) - sum(coming)

    def outdating(stock: list[int], coming: list[int], day: int) -> float:
        lost = rivals.expected_outdating(stock, coming, case.mean, case.lead)
        return case.means(day, cover) + safety - sum(stock) - sum(coming) + lost

    def by_age(stock: list[int], coming: list[int], day: int) -> float:
        par = round(case.means(day, cover) + safety)
        there = sum(stock) + sum(coming)
        return rivals.by_age(there, stock[0], par=par, threshold=0.5)

    return {
        "mean": state_by_state(case, mean_and_more),
        "outdating": state_by_state(case, outdating),
        "ratio": state_by_state(case, by_age),
        "forecast": ByRun(case, "forecast", in_view=False),
    }


def best_par(case: Case) -> float:
    """Money a day of the base stock, in whole cases, that costs least on the case itself."""
    problem = case.problem
    pars = range(1, (problem.most or 0) + 1)
    return min(_cost(problem, _filling_up(case, par)) for par in pars)


def _filling_up(case: Case, par: int) -> Policy:
    def policy(states: Counts, day: int) -> Counts:
        missing = np.maximum(0, par - states.sum(axis=1))
        return np.asarray(-(-missing // case.size) * case.size)

    return policy


def _cost(problem: Problem, policy: Policy) -> float:
    return cost_a_day(problem, policy, warm_up=3 * problem.days + 20, likely=RARE)


@dataclass(frozen=True, slots=True)
class Measured:
    """Avoidable money a day of the optimum; of the others the share above it."""

    case: Case
    optimal: float
    ours: float
    alone: float
    rivals: dict[str, float]
    par: float
    milliseconds: float  # of a decision of ours

    @property
    def best_rival(self) -> str:
        return min(self.rivals, key=lambda name: self.rivals[name])


def measure(case: Case, *, seed: int = SEED, paths: int = PATHS, draws: int = DRAWS) -> Measured:
    problem = case.problem
    optimal = solve(problem).a_day

    def above(policy: Policy) -> float:
        return _cost(problem, policy) / optimal - 1

    ours = ByRun(case, seed=seed, paths=paths, draws=draws)
    alone = ByRun(case, in_view=False, seed=seed, paths=paths, draws=draws)
    excess = above(ours)
    return Measured(
        case=case,
        optimal=optimal,
        ours=excess,
        alone=above(alone),
        rivals={name: above(policy) for name, policy in rules_of(case).items()},
        par=best_par(case) / optimal - 1,
        milliseconds=1000 * ours.seconds / len(ours.known),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="The basis cost against the optimum.")
    parser.add_argument("--demand", choices=DEMANDS, nargs="*", default=["poisson"])
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--paths", type=int, default=PATHS)
    parser.add_argument("--draws", type=int, default=DRAWS)
    asked = parser.parse_args()
    print(f"seed {asked.seed}, {asked.draws} draws of {asked.paths} paths")
    print("money a day; the others: share above the optimum")
    for demand in asked.demand:
        print(f"\n{demand:8} life lead case  mean  optimal    ours  R10 alone  best rival"
              "           best par  ms")  # fmt: skip
        for case in DEMANDS[demand]():
            found = measure(case, seed=asked.seed, paths=asked.paths, draws=asked.draws)
            rival = found.best_rival
            print(
                f"{'':8} {case.life:4} {case.lead:4} {case.size:4} {case.mean:5.2f}"
                f" {found.optimal:8.4f} {found.ours:+7.1%} {found.alone:+10.1%}"
                f"  {found.rivals[rival]:+7.1%} {rival:10} {found.par:+8.1%}"
                f" {found.milliseconds:5.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
