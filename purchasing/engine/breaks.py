"""More cases for a lower price, where the saving is worth it (R13)."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from inventory.engine.projection import Floats
from purchasing.engine.costs import holding_cost, last_day_held, outcome
from purchasing.engine.lines import LineDecision, Verdict, Weighed, cases_for
from purchasing.engine.outlook import in_chunks
from purchasing.engine.quantities import decided_again

AS_NEEDED = "as_needed"
PRICE_BREAK = "price_break"
# Money; a smaller gain is rounding.
NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class Reach:
    """Decision number ``row`` with as many cases as a break asks for. ``gain``: money, what is
    saved less the extra waste and holding."""

    row: int
    cases: int
    gain: float

    @property
    def order(self) -> tuple[float, int]:
        """The largest gain first, then fewer cases."""
        return -self.gain, self.cases


def with_breaks(decisions: Sequence[LineDecision], weights: Floats) -> list[LineDecision]:
    """The decisions, each raised to the price break that gains most, if any does.

    Every case then costs the price of the break. A break is considered where something is
    ordered anyway and is used in the window: nothing is bought for its price alone.
    """
    best = _best(_reaches(decisions, weights))
    verdicts = {row: _verdict(decisions[row].verdict, reach) for row, reach in best.items()}
    lines = [decisions[row].line for row in verdicts]
    again = decided_again(lines, list(verdicts.values()), weights)
    changed = dict(zip(verdicts, again, strict=True))
    return [changed.get(row, decision) for row, decision in enumerate(decisions)]


def _best(reaches: Iterable[Reach]) -> dict[int, Reach]:
    by_row: dict[int, list[Reach]] = defaultdict(list)
    for reach in reaches:
        by_row[reach.row].append(reach)
    return {row: min(found, key=lambda reach: reach.order) for row, found in by_row.items()}


def _verdict(verdict: Verdict, reach: Reach) -> Verdict:
    if reach.gain > NOTHING:
        taken = Weighed(PRICE_BREAK, -reach.gain, AS_NEEDED, 0.0)
        return replace(verdict.up_to(reach.cases), weighed=(*verdict.weighed, taken))
    kept = Weighed(AS_NEEDED, 0.0, PRICE_BREAK, -reach.gain)
    return replace(verdict, weighed=(*verdict.weighed, kept))


def _reaches(decisions: Sequence[LineDecision], weights: Floats) -> Iterator[Reach]:
    asked = [(row, cases) for row, one in enumerate(decisions) for cases in _larger(one)]
    lines = [decisions[row].line for row, _ in asked]
    for positions, outlook in in_chunks(lines, weights):
        rows = [decisions[asked[i][0]] for i in positions]
        cases = [asked[i][1] for i in positions]
        packs = np.array([line.offer.pack_base for line in outlook.lines])
        now = outcome(outlook, packs * [one.cases for one in rows])
        then = outcome(outlook, packs * cases)
        for n, i in enumerate(positions):
            wasted, lost = then.wasted[n] - now.wasted[n], now.lost[n] - then.lost[n]
            gain = _saving(rows[n], cases[n], float(wasted), float(lost))
            gain -= _holding(rows[n], cases[n], float(then.held[n]))
            gain += _holding(rows[n], rows[n].cases, float(now.held[n]))
            yield Reach(asked[i][0], cases[n], gain)


def _larger(decision: LineDecision) -> list[int]:
    """Counts above what is ordered that the offer permits and that cost less a case."""
    offer, line = decision.line.offer, decision.line
    if not decision.cases or decision.reasons.use_in_window <= 0:
        return []
    counts = {
        cases_for(least * offer.pack_base, offer)
        for least, _ in offer.breaks
        if least > decision.cases
    }
    return sorted(n for n in counts if line.price_for(n) < decision.price)


def _saving(decision: LineDecision, cases: int, wasted: float, spared: float) -> float:
    """Money saved on every case, less the extra waste (base units ``wasted``) at what the goods
    would have cost otherwise: what is used of the extra cases spares a later purchase at that
    price. Only the basis cost weighs sales, so only there what is no longer lost (base units
    ``spared``) counts beside it."""
    line = decision.line
    before, after = line.case_price_for(decision.cases), line.case_price_for(cases)
    margin = line.shortage_cost or 0.0
    unit_cost = float(before) / line.offer.pack_base
    sales = spared * margin if decision.verdict.basis_used == "cost" else 0.0
    return float(cases * (before - after)) - wasted * unit_cost + sales


def _holding(decision: LineDecision, cases: int, held: float) -> float:
    """Money tied up by so many cases: ``held`` unit-days of the projection, and what is left
    after it until it is used up."""
    line = decision.line
    if not line.holding_rate:
        return 0.0
    there = decision.verdict.have
    later = _days_after(decision, there + cases * line.offer.pack_base)
    later -= _days_after(decision, there)
    unit_cost = float(line.case_price_for(cases)) / line.offer.pack_base
    return float(holding_cost(unit_cost, line.holding_rate, held + later))


def _days_after(decision: LineDecision, stock: float) -> float:
    """Unit-days of ``stock`` (base units on D1) after the last day that the projection counts,
    used at the rate of the window to the use-by (own assumption)."""
    line = decision.line
    rate = decision.reasons.use_in_window / (line.window.end - line.window.start).days
    last = date.fromordinal(last_day_held(line))
    left = max(0.0, stock - rate * ((last - line.window.start).days + 1))
    remaining = math.inf if line.last_day is None else max(0, (line.last_day - last).days)
    days = min(remaining, left / rate)
    return left * days - rate * days**2 / 2
