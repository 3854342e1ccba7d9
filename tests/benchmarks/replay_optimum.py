"""The replay itself beside the optimum: drawn demand of which the best policy is known exactly.

    python -m tests.benchmarks.replay_optimum [--demand poisson weekly ...] [--life 1 3 ...]
                                              [--seed 1] [--lines 8] [--days 182] [--paths 500]

Lives of 1, 2, 3, 5 and 7 days after receipt, a lead of 1 and 2 days, cases of 1 and 4, an order
every day, lost sales; costs, demands and the optimum are those of tests/benchmarks/perishable.py.
The optimum is one more policy of the same replay, so it meets the same usage on the same shelf
and its money is added up by the same code. Each place is a draw of its own.

Figures are what a policy costs avoidably, as a ratio to what the optimum is expected to cost from
the empty first day on, which is exact; only what a policy costs *more* than the optimum is drawn,
on common usage. Behind a ratio stands one standard error, from the spread between places.
``judged``: each decision of ``cost`` by what it costs more than the best one in the same state,
exactly; added up it is the same figure with hardly any chance left in it.

``known``: runs know the distribution of each day. ``learnt``: they have seen half a year of
usage, as all others do but the optimum, which always knows. Where days change the optimum knows
all of the cycle ahead, a step of the level to the day: a bound, as nobody does.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import islice
from typing import Any, cast
from unittest import mock

import numpy as np

from inventory.engine.demand.history import History
from inventory.engine.demand.joint import normals, strata
from inventory.engine.demand.paths import DemandModel, learn_demand
from inventory.engine.demand.usage import OWN, UsageModel
from inventory.engine.kitchen import Item
from inventory.engine.projection import Floats
from purchasing.engine import foresight
from purchasing.engine.inputs import ParRule
from purchasing.engine.lines import Line
from purchasing.engine.policies import EXTRA, POLICIES, PastUse, Policy
from purchasing.engine.replay import PolicyReplay, replay
from purchasing.engine.replay_figures import line_figures
from purchasing.engine.replay_inputs import ONE, Pair, ReplayInputs
from purchasing.engine.replay_shelf import LineShelf
from tests.benchmarks.perishable import COSTS, DEMANDS, MEANS, Case, changing, mean_of
from tests.published.perishable import Counts, Problem, Solution, costs_of_days, decoded, solve
from tests.purchasing.engine.line_scenes import march, offer
from tests.purchasing.engine.replay_scenes import DAILY, given

FIRST = 2  # Monday 2 March 2026, the first day of a cycle
HISTORY = 182  # days of usage before it
SEED, LINES, DAYS, PATHS = 1, 8, 182, 500
ITEM = "LEEK"
OPTIMUM = "optimum"
OTHERS = ("forecast", "fixed", "greater", "mean", "outdating")


def steps() -> Iterator[Case]:
    """Six weeks at two thirds of the mean and six weeks at four thirds, again and again. Days
    that end just before a step down would leave out what it wastes."""
    yield from changing([*[2 / 3] * 42, *[4 / 3] * 42], 2, 3.0)


SETS: dict[str, Callable[[], Iterator[Case]]] = {
    "poisson": DEMANDS["poisson"],
    "lumpy": DEMANDS["lumpy"],
    "weekly": DEMANDS["weekly"],
    "steps": steps,
}


def usage(case: Case, seed: int, place: int, days: int) -> dict[date, float]:
    """Whole units of each day, the history included, drawn one after the other."""
    rng = np.random.default_rng([seed, place])
    found = {}
    for on in range(-HISTORY, days):
        chances = case.cycle[on % len(case.cycle)]
        found[march(FIRST + on)] = float(rng.choice(len(chances), p=chances))
    return found


def scene(case: Case, *, seed: int, lines: int, days: int, paths: int) -> ReplayInputs:
    """As many places as ``lines``, each of which buys one item of its own account."""
    use = {(f"K{n:02}", ITEM): usage(case, seed, n, days) for n in range(lines)}
    price = COSTS.wasted
    weekdays = range(7)
    weekly = len(case.cycle) == len(weekdays)
    means = [mean_of(case.cycle[day]) if weekly else case.mean for day in weekdays]
    return given(
        use,
        [Item(ITEM, "resale", "each", shelf_life_days=case.life)],
        [offer(case.size, str(price * case.size), item=ITEM)],
        days=(FIRST, FIRST + days - 1),
        suppliers=[replace(DAILY, lead_days=case.lead)],
        pars=[
            ParRule(*pair, weekday, EXTRA * means[weekday], "fixed")
            for pair in use
            for weekday in weekdays
        ],
        margin=COSTS.short,
        sale_price=COSTS.short + price,
        rate=str(COSTS.held * 365 / price),
        paths=paths,
    )


@dataclass(frozen=True)
class Known:
    """Stands in for what was learnt of usage: the distribution of each day, as it is."""

    case: Case
    keys: tuple[Pair, ...]

    def paths(self, *, first_day: date, days: int, seed: int, paths: int) -> dict[Pair, Floats]:
        """(days, P) by pair; every day in equal slices of its distribution."""
        dates = [first_day + timedelta(days=n) for n in range(days)]
        return {
            key: np.array([self._drawn(key, day, seed, paths) for day in dates])
            for key in self.keys
        }

    def _drawn(self, key: Pair, day: date, seed: int, paths: int) -> Floats:
        chances = self.case.cycle[(day - march(FIRST)).days % len(self.case.cycle)]
        slices = strata(normals(seed, OWN, "/".join(key), day, paths))
        return np.searchsorted(np.cumsum(chances), slices).astype(float)

    def model(self, history: History, *args: Any, **more: Any) -> DemandModel:
        """In the place of learn_demand."""
        nothing = learn_demand(History.empty(), *args, **more)
        return replace(nothing, usage=cast(UsageModel, self), anything=True)


def bounded(case: Case) -> Problem:
    """With room for policies that order more than is ever worth while."""
    usual = case.problem
    orders = (*usual.orders, usual.orders[-1] + case.size)
    return replace(usual, orders=orders, most=(usual.most or 0) + 2 * case.size)


@dataclass(frozen=True)
class BestOrder:
    """A rule of the replay: what the optimum orders for what is there and on its way."""

    case: Case
    solution: Solution

    @property
    def policy(self) -> Policy:
        return Policy(OPTIMUM, rule=self)

    def __call__(self, line: Line, past: PastUse) -> float:
        """Base units, a whole number of cases."""
        state = np.zeros((1, self.solution.problem.columns), dtype=np.int64)
        today, lots = past.day.toordinal(), line.lots
        for qty, use_by, arrives in zip(lots.qty, lots.use_by, lots.arrives_on, strict=True):
            coming = max(0, int(arrives) - today)
            place = self.case.life + coming if coming else int(use_by) - today
            if place >= 0:
                state[0, place] += round(qty)
        return float(self.solution.policy(state, (past.day - march(FIRST)).days)[0])

    def lived(self, shelf: LineShelf) -> Iterator[tuple[int, Counts, int]]:
        """Day, state (columns,) and order on each day of a line, by the model of the optimum
        with the orders that were placed and the usage that came."""
        problem = self.solution.problem
        state = np.zeros((1, problem.columns), dtype=np.int64)
        for day, row in enumerate(shelf.rows):
            order = np.array([int(row.ordered_cases) * self.case.size])
            yield day, state[0], int(order[0])
            code = problem.morning_after(state, order, row.usage // ONE)
            state = decoded(code, problem.columns)

    def regret(self, shelf: LineShelf) -> float:
        """Money in all by which the orders of a line are dearer than the best ones."""
        phases = defaultdict[int, Counter[tuple[int, ...]]](Counter)
        for day, state, order in self.lived(shelf):
            phases[day % len(self.case.cycle)][*state.tolist(), order] += 1
        total = 0.0
        for day, found in phases.items():
            rows, times = np.array(list(found)), np.array(list(found.values()))
            total += float(times @ self.solution.regret(rows[:, :-1], rows[:, -1], day))
        return total


@dataclass(frozen=True, slots=True)
class Ratio:
    """To what the optimum is expected to cost, with one standard error."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class ByCost:
    """The policy ``cost``: what it cost in the replay, and its decisions judged one by one."""

    drawn: Ratio
    judged: Ratio


@dataclass(frozen=True, slots=True)
class Measured:
    """``a_day``: money of the optimum a day, exact; ``drawn``: what it cost in the replay, by
    that; ``known``, ``learnt``: by cost; ``others``: the other policies by name."""

    case: Case
    a_day: float
    drawn: Ratio
    known: ByCost
    learnt: ByCost
    others: dict[str, Ratio]


@dataclass(frozen=True)
class Comparison:
    """One case, its optimum, and the days on which policies meet."""

    case: Case
    best: BestOrder
    asked: ReplayInputs
    seed: int

    @classmethod
    def of(
        cls,
        case: Case,
        *,
        seed: int = SEED,
        lines: int = LINES,
        days: int = DAYS,
        paths: int = PATHS,
    ) -> Comparison:
        asked = scene(case, seed=seed, lines=lines, days=days, paths=paths)
        return cls(case, BestOrder(case, solve(bounded(case))), asked, seed)

    @property
    def expected(self) -> float:
        """Money of the optimum over the days from the empty first one on; exact but for the
        last night, whose waste the replay no longer counts."""
        solution, days = self.best.solution, len(self.asked.days)
        paid = costs_of_days(solution.problem, solution.policy, days=days, likely=1e-7)
        return float(sum(islice(paid, days)))

    def known(self, *names: str) -> tuple[PolicyReplay, ...]:
        """The optimum, then the policies with the distribution of every day known."""
        keys = tuple(line.pair for line in self.asked.lines)
        with mock.patch.object(foresight, "learn_demand", Known(self.case, keys).model):
            return self.learnt(*names)

    def learnt(self, *names: str) -> tuple[PolicyReplay, ...]:
        """The optimum, then the policies by what the days before have shown."""
        policies = [self.best.policy, *(POLICIES[name] for name in names)]
        return replay(self.asked, policies, seed=self.seed)

    def avoidable(self, done: PolicyReplay) -> Floats:
        """(lines,) money."""
        return np.array(
            [float(one.figures.money.avoidable) for one in line_figures(done, self.asked)]
        )

    def ratios(self, done: tuple[PolicyReplay, ...], expected: float) -> dict[str, Ratio]:
        """Of every policy but the optimum, which comes first."""
        optimum = self.avoidable(done[0])
        more = {one.policy.name: self.avoidable(one) - optimum for one in done[1:]}
        return {name: ratio_of(each + expected, expected) for name, each in more.items()}

    def judged(self, done: PolicyReplay, expected: float) -> Ratio:
        """What the decisions cost, luck left out."""
        regrets = np.array([self.best.regret(shelf) for shelf in done.shelves])
        return ratio_of(regrets + expected, expected)


def ratio_of(money: Floats, expected: float) -> Ratio:
    spread = float(np.std(money, ddof=1)) / len(money) ** 0.5
    return Ratio(float(np.mean(money)) / expected, spread / expected)


def measure(case: Case, **more: int) -> Measured:
    compared = Comparison.of(case, **more)
    expected = compared.expected
    known, learnt = compared.known("cost"), compared.learnt("cost", *OTHERS)
    by_name = compared.ratios(learnt, expected)
    return Measured(
        case=case,
        a_day=expected / len(compared.asked.days),
        drawn=ratio_of(compared.avoidable(known[0]), expected),
        known=ByCost(compared.ratios(known, expected)["cost"], compared.judged(known[1], expected)),
        learnt=ByCost(by_name.pop("cost"), compared.judged(learnt[1], expected)),
        others=by_name,
    )


def row(found: Measured) -> str:
    case = found.case
    cells = [
        found.drawn,
        *(r for one in (found.known, found.learnt) for r in (one.drawn, one.judged)),
    ]
    figures = "".join(f"  {one.value:6.3f} ±{one.error:5.3f}" for one in cells)
    others = "".join(f"{found.others[name].value:10.2f}" for name in OTHERS)
    numbers = f"{case.life:4} {case.lead:4} {case.size:4} {case.mean:5.2f} {found.a_day:7.4f}"
    return numbers + figures + others


WORDS = ("optimum drawn", "cost, known", "judged", "cost, learnt", "judged")
HEAD = (
    "life lead case  mean   a day"
    + "".join(f"{word:>15}" for word in WORDS)
    + "".join(f"{name:>10}" for name in OTHERS)
)


def main() -> None:
    parser = argparse.ArgumentParser(description="The replay's policies beside the optimum.")
    parser.add_argument("--demand", choices=SETS, nargs="*", default=list(SETS))
    parser.add_argument("--life", type=int, nargs="*", default=list(MEANS))
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--lines", type=int, default=LINES)
    parser.add_argument("--days", type=int, default=DAYS)
    parser.add_argument("--paths", type=int, default=PATHS)
    asked = parser.parse_args()
    print(f"seed {asked.seed}, {asked.lines} places x {asked.days} days, {asked.paths} paths")
    for demand in asked.demand:
        print(f"\n{demand}: ratios to the expected cost of the optimum\n{HEAD}")
        for case in (one for one in SETS[demand]() if one.life in asked.life):
            began = time.perf_counter()
            found = measure(
                case, seed=asked.seed, lines=asked.lines, days=asked.days, paths=asked.paths
            )
            print(row(found), f"{time.perf_counter() - began:6.0f} s", flush=True)


if __name__ == "__main__":
    main()
