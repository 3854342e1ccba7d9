"""Rules of ordering that a replay sets side by side: our own, and rivals.

Those by a basis are ours (R8 to R11) with every line on it. ``mean`` is what a spreadsheet does.
``outdating`` is the heuristic of Broekmeulen and van Donselaar, Computers & Operations Research
36 (2009) 3013: the stock is counted less what will probably outdate in the protection interval.
The last two know no more than the usage of the past weeks and need no forecast.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from inventory.engine.projection import Floats
from purchasing.engine.inputs import ParRule
from purchasing.engine.lines import Line, LineDecision, Verdict, cases_for
from purchasing.engine.quantities import decided_again
from purchasing.engine.replay_inputs import ONE, Pair, ReplayLine

MEAN_DAYS = 56  # past days over which the mean is taken
EXTRA = 1.25  # of the mean: what a spreadsheet adds to be on the safe side
WEEK = 7


@dataclass(frozen=True, slots=True)
class PastUse:
    """Base units used on each of the last days before ``day``, oldest first, at most
    MEAN_DAYS and none before the first row on record."""

    day: date
    qty: Floats

    @classmethod
    def of(cls, line: ReplayLine, day: date, began: date) -> PastUse:
        days = min(MEAN_DAYS, max(0, (day - began).days))
        dates = [day - timedelta(days=n) for n in range(days, 0, -1)]
        return cls(day, np.array([line.use.get(one, 0) / ONE for one in dates]))

    @property
    def mean(self) -> float:
        """Base units a day."""
        return math.fsum(self.qty) / len(self.qty) if len(self.qty) else 0.0

    def mean_on(self, day: date) -> float:
        """Base units on a day of that weekday; the overall mean where none is on record."""
        same = self.qty[self._weekdays == day.weekday()]
        return math.fsum(same) / len(same) if len(same) else self.mean

    @property
    def spread(self) -> float:
        """Standard deviation of a day about the mean of its weekday, base units."""
        ages = range(len(self.qty), 0, -1)
        usual = np.array([self.mean_on(self.day - timedelta(days=age)) for age in ages])
        freedom = len(self.qty) - WEEK
        return math.sqrt(math.fsum((self.qty - usual) ** 2) / freedom) if freedom > 0 else 0.0

    @property
    def _weekdays(self) -> npt.NDArray[np.int64]:
        ages = np.arange(len(self.qty), 0, -1)
        return np.asarray((self.day.weekday() - ages) % WEEK)


Rule = Callable[[Line, PastUse], float]


def mean_need(line: Line, past: PastUse) -> float:
    """R8 with the par replaced: mean use until D2 and a quarter more, less everything on hand
    and on order. Base units."""
    days = (line.slot.next_delivery - past.day).days
    return EXTRA * past.mean * days - _position(line)


def outdating_need(line: Line, past: PastUse) -> float:
    """Mean use until D2 and safety, less the stock that will last: all on hand and on order
    but what is expected to outdate before the last day before D2. Base units.

    Safety is z(service level) x the spread of a day x the root of the days (reference table,
    section 2: the whole protection interval).
    """
    days = (line.slot.next_delivery - past.day).days
    ahead = [past.mean_on(past.day + timedelta(days=n)) for n in range(days)]
    safety = NormalDist().inv_cdf(line.terms.service_level) * past.spread * math.sqrt(days)
    lasting = _position(line) - expected_outdating(line, past.day, ahead[:-1])
    return math.fsum(ahead) + safety - lasting


def expected_outdating(line: Line, day: date, ahead: Iterable[float]) -> float:
    """Base units of the lots on hand and on order that reach their use-by unused, if each day
    from ``day`` on uses just what is expected, first expired first."""
    left, use_by = line.lots.qty.copy(), line.lots.use_by
    gone = 0.0
    for on, want in enumerate(ahead, start=day.toordinal()):
        there = line.lots.arrives_on <= on
        for k in np.flatnonzero(there & (use_by >= on)):
            taken = min(want, left[k])
            left[k] -= taken
            want -= taken
        dying = there & (use_by == on)
        gone += math.fsum(left[dying])
        left[dying] = 0.0
    return gone


def _position(line: Line) -> float:
    """Everything on hand and on order, base units."""
    return math.fsum(line.lots.qty)


def decide_by(
    rule: Rule, past: Mapping[Pair, PastUse], lines: list[Line], weights: Floats
) -> list[LineDecision]:
    verdicts = [_verdict(line, rule(line, past[line.location, line.item])) for line in lines]
    return decided_again(lines, verdicts, weights)


def _verdict(line: Line, short: float) -> Verdict:
    need, have = max(0.0, short), _position(line)
    return Verdict(cases_for(need, line.offer), have, need, have + need, "fixed", "R8")


@dataclass(frozen=True, slots=True)
class Policy:
    """``basis``: of every line; blank: each par row's own. ``needs_par``: a line without one is
    left out. ``rule``: what decides instead of the basis. ``recorded``: nothing is decided,
    what really came comes."""

    name: str
    basis: str = ""
    needs_par: bool = False
    rule: Rule | None = None
    recorded: bool = False

    def pars(self, rows: tuple[ParRule, ...], lines: Iterable[Pair]) -> tuple[ParRule, ...]:
        """The par rows with every line on this policy's basis."""
        if not self.basis:
            return rows
        changed = [replace(row, basis=self.basis) for row in rows]
        if self.needs_par:
            return tuple(changed)
        every_day = {(row.location, row.item) for row in rows if row.weekday is None}
        more = sorted(set(lines) - every_day)
        return (*changed, *(ParRule(*pair, None, None, self.basis) for pair in more))


POLICIES = {
    one.name: one
    for one in (
        Policy("pars"),
        Policy("fixed", "fixed", needs_par=True),
        Policy("forecast", "forecast"),
        Policy("greater", "greater", needs_par=True),
        Policy("cost", "cost"),
        Policy("mean", rule=mean_need),
        Policy("outdating", rule=outdating_need),
        Policy("recorded", recorded=True),
    )
}
