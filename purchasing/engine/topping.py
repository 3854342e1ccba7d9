"""Cases added to an order that is short of the supplier's minimum (R13)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from inventory.engine.projection import Floats
from inventory.engine.weighted import WEIGHT_TOLERANCE
from purchasing.engine.costs import Outcome, holding_cost, outcome
from purchasing.engine.lines import Line, LineDecision, next_allowed
from purchasing.engine.outlook import Outlook, in_chunks


@dataclass(frozen=True, slots=True)
class Step:
    """``cases`` more of line number ``line``. ``cost``: expected waste and holding, money;
    ``cover``: days that stock and order would last (infinite where nothing is used)."""

    line: int
    cases: int
    value: Decimal
    cost: float
    cover: float = 0.0

    @property
    def order(self) -> tuple[float, float, int]:
        """Least waste and holding per unit of value first; among equals what is used up
        soonest."""
        return self.cost / float(self.value), self.cover, self.line


def fill(
    gap: Decimal, first: Sequence[Step], following: Callable[[Step], Step | None]
) -> list[Step] | None:
    """Steps whose value reaches ``gap``, in order of cost per unit of value; None if there are
    not enough. What turns out not to be needed is taken off again, dearest first: going by cost
    per value alone may buy too much at the end (reference table JR-05)."""
    open_steps, taken, reached = list(first), list[Step](), Decimal(0)
    while reached < gap:
        if not open_steps:
            return None
        best = min(open_steps, key=lambda step: step.order)
        open_steps.remove(best)
        taken.append(best)
        reached += best.value
        after = following(best)
        open_steps += [] if after is None else [after]
    return _needed(taken, reached - gap)


def _needed(taken: list[Step], spare: Decimal) -> list[Step]:
    """Without the steps that ``spare`` money of value allows to leave out; of each line the
    last one goes first."""
    by_line: dict[int, list[Step]] = defaultdict(list)
    for step in taken:
        by_line[step.line].append(step)
    for step in sorted(taken, key=lambda step: -step.cost):
        last = by_line[step.line][-1]
        if last.value <= spare:
            spare -= last.value
            by_line[step.line].pop()
    return [step for steps in by_line.values() for step in steps]


@dataclass(frozen=True, slots=True)
class Topping:
    """The lines of one order and what may be added to them."""

    decisions: Sequence[LineDecision]
    weights: Floats
    waste_chance_limit: float

    def added(self, gap: Decimal) -> list[Step] | None:
        """Steps that close ``gap``, none of whose cases is wasted with more than the chance
        set; None if there are not enough."""
        rows = range(len(self.decisions))
        first = list(self._steps([(row, self.decisions[row].cases) for row in rows]))
        reached = {row: self.decisions[row].cases for row in rows}

        def following(step: Step) -> Step | None:
            reached[step.line] += step.cases
            return next(self._steps([(step.line, reached[step.line])]), None)

        return fill(gap, first, following)

    def _steps(self, rows: Sequence[tuple[int, int]]) -> Iterator[Step]:
        """The next allowed step of each line from the cases given, where it has one."""
        priced = [(row, n) for row, n in rows if self.decisions[row].line.lowest_case_price > 0]
        yield from (self._step(*each, 0.0) for each in priced if self._keeps_for_nothing(each[0]))
        rest = [each for each in priced if not self._keeps_for_nothing(each[0])]
        lines = [self.decisions[row].line for row, _ in rest]
        for positions, outlook in in_chunks(lines, self.weights):
            yield from self._projected(outlook, [rest[i] for i in positions])

    def _keeps_for_nothing(self, row: int) -> bool:
        """Nothing to project: it never spoils and holding it costs nothing."""
        line = self.decisions[row].line
        return line.last_day is None and not line.holding_rate

    def _projected(self, outlook: Outlook, rows: Sequence[tuple[int, int]]) -> Iterator[Step]:
        """One step up for every line of the outlook, without those that are too likely to be
        wasted."""
        lines = outlook.lines
        packs = np.array([line.offer.pack_base for line in lines])
        more = [next_dearer(n, line) for (_, n), line in zip(rows, lines, strict=True)]
        now = outcome(outlook, packs * [cases for _, cases in rows])
        then = outcome(outlook, packs * more)
        costs = added_cost(lines, now, then)
        for (row, cases), chance, cost in zip(rows, then.waste_chance, costs, strict=True):
            if chance <= self.waste_chance_limit + WEIGHT_TOLERANCE:
                yield self._step(row, cases, float(cost))

    def _step(self, row: int, cases: int, cost: float) -> Step:
        decision = self.decisions[row]
        more = next_dearer(cases, decision.line)
        value = decision.line.value_of(more) - decision.line.value_of(cases)
        return Step(row, more - cases, value, cost, _cover(decision, more))


def next_dearer(cases: int, line: Line) -> int:
    """The next count above ``cases`` that the offer permits and that brings the order nearer to
    a minimum: at a price break, more cases may be worth less money than fewer."""
    more = next_allowed(cases, line.offer)
    while line.value_of(more) <= line.value_of(cases):
        more = next_allowed(more, line.offer)
    return more


def added_cost(lines: Sequence[Line], now: Outcome, then: Outcome) -> Floats:
    """(I,) money: expected waste and holding of what is ordered beyond ``now``."""
    unit_cost = np.array([line.unit_cost for line in lines])
    rate = np.array([line.holding_rate for line in lines])
    held = holding_cost(unit_cost * (then.held - now.held), rate, 1.0)
    return np.asarray((then.wasted - now.wasted) * unit_cost + held)


def _cover(decision: LineDecision, cases: int) -> float:
    """Days that stock and order last at the usage of the window."""
    line = decision.line
    days = (line.window.end - line.window.start).days
    a_day = decision.reasons.use_in_window / days
    held = decision.verdict.have + cases * line.offer.pack_base
    return held / a_day if a_day > 0 else float("inf")
