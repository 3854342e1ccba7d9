"""What choosing cases by cost takes, against one pass over its own arrays.

    python -m tests.benchmarks.rollout

One pass plays this order and the later ones in view on every path, once. Choosing builds the
arrays, tries pars on a part of the paths and counts of cases on all. 25 lines (a chunk of a run),
1,000 paths; times are those of the processor, the least of several, so that other work on the
machine counts little; ten passes are timed in a row, so that what is compared takes about as long.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import process_time

import numpy as np

from purchasing.engine.ahead import Ahead
from purchasing.engine.lines import LaterOrder, Line
from purchasing.engine.rollout import cheapest_ahead, cost_ahead
from tests.purchasing.engine.line_scenes import daily, line, march, offer

LINES, PATHS, DAYS = 25, 1000, 40
TIMES = 10
EVEN = np.full(PATHS, 1 / PATHS)


def lines(life: int, mean: int) -> list[Line]:
    """Ordered every day, with lots of several dates there and one on its way."""
    rng = np.random.default_rng(1)
    use = daily({2 + day: rng.poisson(mean, PATHS) for day in range(DAYS)}, PATHS)
    return [
        line(
            use,
            stock=[(int(rng.integers(1, 2 * mean)), 2 + n) for n in range(1, life)],
            coming=[(3, int(rng.integers(1, 2 * mean)), 3 + life)],
            between=(4, 5),
            basis="cost",
            life=life,
            sold=offer(int(rng.integers(1, 5)), "4"),
            shortage_cost=4.0,
            holding_rate=0.25,
            later=tuple(LaterOrder(march(2 + n), march(4 + n)) for n in range(1, DAYS)),
        )
        for _ in range(LINES)
    ]


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds of processor time for all lines."""

    choosing: float
    one_pass: float

    @property
    def ratio(self) -> float:
        return self.choosing / self.one_pass


def measure(life: int, mean: int = 4) -> Measured:
    asked = lines(life, mean)
    ahead, first = Ahead.of(asked, EVEN), np.full(LINES, float(mean))
    return Measured(
        choosing=least(lambda: cheapest_ahead(asked, EVEN)),
        one_pass=least(lambda: again(lambda: cost_ahead(ahead, first, np.ones(LINES)))) / TIMES,
    )


def again(work: Callable[[], object]) -> None:
    for _ in range(TIMES):
        work()


def least(work: Callable[[], object], times: int = 5) -> float:
    def once() -> float:
        started = process_time()
        work()
        return process_time() - started

    return min(once() for _ in range(times))


def main() -> None:
    for life in (1, 3, 7):
        found = measure(life)
        print(
            f"life {life}: {1000 * found.choosing / LINES:5.2f} ms a line,"
            f" {found.ratio:4.1f} x one pass"
        )


if __name__ == "__main__":
    main()
