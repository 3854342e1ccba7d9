"""What deciding order lines takes, against one pass over the arrays that it reads.

    python -m tests.benchmarks.ordering

Deciding is all that a run does with 25 lines (one chunk) on 1,000 paths: their draws and lots laid
side by side, the quantity found, the reasons. One pass plays the same arrays once, day by day and
lot by lot, with one quantity; by cost that is a pass over the days that the order is projected on
and one over those in view. ``read``: the sum of every number in them, which decides nothing.

Times are those of the processor, the least of several, so that other work on the machine counts
little; ten passes are timed in a row, so that what is compared takes about as long.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from inventory.engine.projection import project
from purchasing.engine.ahead import Ahead, orders_in_view
from purchasing.engine.lines import Line
from purchasing.engine.outlook import Outlook
from purchasing.engine.quantities import decide_lines
from purchasing.engine.rollout import cost_ahead
from tests.benchmarks import lines as by_level
from tests.benchmarks import rollout as in_view
from tests.benchmarks.rollout import EVEN, LINES, TIMES, again, least

ONES = np.ones(LINES)
ALONE = "cost, alone, life 3"


def by_forecast() -> list[Line]:
    return apart(by_level.lines(LINES))


def by_greater() -> list[Line]:
    return [
        replace(line, terms=replace(line.terms, basis="greater", par=200.0))
        for line in by_forecast()
    ]


def by_cost_alone() -> list[Line]:
    """Each order alone: nothing is known of later ones."""
    return [replace(line, later=()) for line in by_cost(3)]


def by_cost(life: int) -> list[Line]:
    return apart(in_view.lines(life, mean=4))


def apart(lines: Sequence[Line]) -> list[Line]:
    """Each with draws of its own, so that every one is read."""
    return [replace(line, draws=replace(line.draws, qty=line.draws.qty.copy())) for line in lines]


KINDS: dict[str, Callable[[], list[Line]]] = {
    "forecast": by_forecast,
    "greater": by_greater,
    ALONE: by_cost_alone,
    "cost, life 1": lambda: by_cost(1),
    "cost, life 3": lambda: by_cost(3),
    "cost, life 7": lambda: by_cost(7),
}


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds of processor time for all lines."""

    deciding: float
    one_pass: float
    read: float

    @property
    def ratio(self) -> float:
        return self.deciding / self.one_pass


def measure(lines: Sequence[Line]) -> Measured:
    outlook = Outlook.of(lines, EVEN)
    view = Ahead.of(lines, EVEN) if all(map(orders_in_view, lines)) else None

    def one_pass() -> None:
        project(outlook.unmet.left, outlook.early.serves, outlook.early.qty)
        outlook.with_order(ONES)
        if view is not None:
            cost_ahead(view, ONES, ONES)

    def reading() -> float:
        return sum(float(line.draws.qty.sum()) for line in lines)

    return Measured(
        deciding=least(lambda: decide_lines(lines, EVEN)),
        one_pass=least(lambda: again(one_pass)) / TIMES,
        read=least(lambda: again(reading)) / TIMES,
    )


def main() -> None:
    for name, lines in KINDS.items():
        found = measure(lines())
        print(
            f"{name:20} {1000 * found.deciding / LINES:6.2f} ms a line,"
            f" {found.ratio:5.1f} x one pass, {found.deciding / found.read:6.0f} x reading"
        )


if __name__ == "__main__":
    main()
