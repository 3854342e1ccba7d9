"""Another offer for the days until the first choice can deliver (R13)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from inventory.engine.kitchen import Coming
from inventory.engine.projection import Floats
from inventory.engine.weighted import WEIGHT_TOLERANCE
from purchasing.engine.asked import LineBook
from purchasing.engine.costs import outcome
from purchasing.engine.lines import Line, LineDecision, Weighed
from purchasing.engine.offers import Market, Pair, landed_cost
from purchasing.engine.outlook import Outlook
from purchasing.engine.quantities import decide_lines

BRIDGE = "bridge"
RUN_SHORT = "run_short"
Decide = Callable[[Sequence[Line]], list[LineDecision]]


@dataclass(frozen=True, slots=True)
class Bridges:
    """What deciding on bridges takes. ``decide``: how the first choice is decided again."""

    book: LineBook
    market: Market
    weights: Floats
    decide: Decide

    def added(self, decisions: Sequence[LineDecision]) -> list[LineDecision]:
        """The decisions, at most one of a pair, and the bridges they need.

        Where the chance of running out before D1 exceeds 1 - service level and another offer
        comes before D1, the fewest cases of it that meet the level until D1 are ordered, and
        the first choice is decided again with that on order.
        """
        late = {_pair(one.line): one for one in decisions if _runs_short(one)}
        bridges = self._bridges(late)
        coming = [self._coming(bridge) for bridge in bridges.values()]
        known = self.book.with_coming(coming)
        firsts = [late[pair].line for pair in bridges]
        again = self.decide([known.line(_pair(one), one.offer, one.slot) for one in firsts])
        changed = {_pair(one.line): one for one in again}
        found = list[LineDecision]()
        for decision in decisions:
            pair = _pair(decision.line)
            if pair in bridges:
                why = self._weighed(bridges[pair], decision.line)
                found += [_by_r13(bridges[pair], why), _by_r13(changed[pair], why)]
            else:
                found.append(decision)
        return found

    def _bridges(self, late: dict[Pair, LineDecision]) -> dict[Pair, LineDecision]:
        """The best bridge of each pair that has one."""
        lines = [line for decision in late.values() for line in self._faster(decision.line)]
        by_pair: dict[Pair, list[LineDecision]] = defaultdict(list)
        for one in decide_lines(lines, self.weights):
            if one.cases:
                by_pair[_pair(one.line)].append(one)
        return {pair: min(found, key=_preference) for pair, found in by_pair.items()}

    def _faster(self, line: Line) -> Iterable[Line]:
        for choice in self.market.faster(line.location, line.item, line.window.start):
            if choice.slot is not None:
                yield self.book.bridge(line, choice.offer, choice.slot)

    def _coming(self, bridge: LineDecision) -> Coming:
        line = bridge.line
        arrives = self.book.inputs.suppliers[line.offer.supplier].arrives
        return Coming(
            location=line.location,
            item=line.item,
            day=line.window.start,
            qty=bridge.qty,
            use_by=None if line.life is None else line.window.start + timedelta(days=line.life),
            arrives=arrives,
        )

    def _weighed(self, bridge: LineDecision, first: Line) -> Weighed:
        """What the bridge costs more than the same goods of the first choice, its expected
        waste included, against the margin lost until D1 without it."""
        replaced = (bridge.qty - bridge.reasons.expected_waste) * first.unit_cost
        cost = float(bridge.value) - replaced
        margin = bridge.line.shortage_cost
        if margin is None:
            return Weighed(BRIDGE, cost, RUN_SHORT, None)
        outlook = Outlook.of([bridge.line], self.weights)
        lost = outcome(outlook, np.zeros(1)).lost - outcome(outlook, np.array([bridge.qty])).lost
        return Weighed(BRIDGE, cost, RUN_SHORT, float(lost[0]) * margin)


def _pair(line: Line) -> Pair:
    return line.location, line.item


def _runs_short(decision: LineDecision) -> bool:
    level = decision.line.terms.service_level
    return decision.reasons.stockout_chance_before_delivery > 1 - level + WEIGHT_TOLERANCE


def _preference(bridge: LineDecision) -> tuple[float, int, float, tuple[str, str, str, str]]:
    """Offers that keep the service level until D1 are alike; then by rank and landed cost. One
    that does not, since it comes too late or does not keep, stands back by what it misses."""
    line, reasons = bridge.line, bridge.reasons
    allowed = 1 - line.terms.service_level
    chances = reasons.stockout_chance_before_delivery, reasons.stockout_chance_with
    missed = sum(max(0.0, chance - allowed) for chance in chances)
    return round(missed, 9), line.offer.rank, landed_cost(bridge), line.key


def _by_r13(decision: LineDecision, why: Weighed) -> LineDecision:
    verdict = replace(decision.verdict, rule="R13", weighed=(*decision.verdict.weighed, why))
    return LineDecision(decision.line, verdict, replace(decision.reasons, rule="R13"))
