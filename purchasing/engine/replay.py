"""The same days again under other rules of ordering, one level deep, in memory.

Each day: what is due by its cutoffs is ordered by the code of the reorder run; then goods
arrive, spoil, are used (R6) and lie there overnight. Every policy meets the same real usage.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from purchasing.engine.consolidate import OrderKey
from purchasing.engine.foresight import DayAhead, Foresight
from purchasing.engine.pars import ParBook
from purchasing.engine.policies import PastUse, Policy
from purchasing.engine.replay_inputs import Arrival, Pair, ReplayInputs
from purchasing.engine.replay_orders import (
    Prospect,
    Stand,
    forecast_of,
    means_of,
    order_lines,
    placed_on,
)
from purchasing.engine.replay_shelf import LineShelf

Told = Callable[[date], None]


@dataclass(frozen=True, slots=True)
class PolicyReplay:
    """``without_par``: lines that the policy leaves out. ``placed``: order lines, by the day
    on which they were placed."""

    policy: Policy
    shelves: tuple[LineShelf, ...]
    placed: tuple[Arrival, ...]
    without_par: tuple[Pair, ...]


def replay(
    given: ReplayInputs,
    policies: Sequence[Policy],
    *,
    seed: int,
    location: str | None = None,
    told: Told = lambda day: None,
) -> tuple[PolicyReplay, ...]:
    """The days of ``given`` under each policy, in the order given. ``location``: only its
    lines; their figures are those that they have among all. ``told`` hears of each day done."""
    foresight = Foresight(given.known, given.first, seed)
    runs = [_PolicyRun.start(given, policy, location) for policy in policies]
    for day in given.days:
        ahead = foresight.of(day)
        for run in runs:
            run.live(ahead)
        told(day)
    return tuple(run.result() for run in runs)


@dataclass(slots=True)
class _PolicyRun:
    """One policy's stock, what it has on the way, and what it ordered so far."""

    given: ReplayInputs
    policy: Policy
    pars: ParBook
    shelves: dict[Pair, LineShelf]
    without_par: tuple[Pair, ...]
    on_the_way: dict[Pair, list[Arrival]]
    committed: dict[OrderKey, Decimal]
    placed: list[Arrival] = field(default_factory=list)
    numbers: set[str] = field(default_factory=set)

    @classmethod
    def start(cls, given: ReplayInputs, policy: Policy, location: str | None) -> _PolicyRun:
        rows = given.known.pars
        asked = [line for line in given.lines if location in (None, line.location)]
        with_par = {(row.location, row.item) for row in rows if row.par is not None}
        out = [line.pair for line in asked if policy.needs_par and line.pair not in with_par]
        shelves = {line.pair: LineShelf.opened(line) for line in asked if line.pair not in out}
        pars = policy.pars(rows, [line.pair for line in given.lines])
        return cls(
            given,
            policy,
            ParBook.of(pars, given.known.policy.default_service_level),
            shelves,
            tuple(out),
            _by_pair(given.recorded if policy.recorded else given.open_orders, shelves),
            dict(given.known.approved_value),
            numbers={one.order for one in given.open_orders},
        )

    def live(self, ahead: DayAhead) -> None:
        day = ahead.day
        ordered: dict[Pair, Fraction] = defaultdict(Fraction)
        for one in self._order(ahead):
            ordered[one.location, one.item] += one.cases
        for pair, shelf in self.shelves.items():
            due = [one for one in self.on_the_way[pair] if one.day == day]
            self.on_the_way[pair] = [one for one in self.on_the_way[pair] if one.day != day]
            shelf.live(day, due, ordered[pair])

    def _order(self, ahead: DayAhead) -> list[Arrival]:
        """What is placed on the day; under ``recorded``, what came of its orders."""
        if self.policy.recorded:
            came = [one for each in self.on_the_way.values() for one in each]
            placed = [one for one in came if one.placed == ahead.day]
        else:
            placed = self._decided(ahead) if ahead.due & self.shelves.keys() else []
            for one in placed:
                self.on_the_way[one.location, one.item].append(one)
        self.placed += placed
        return placed

    def _decided(self, ahead: DayAhead) -> list[Arrival]:
        stand = Stand(
            {pair: shelf.usable(ahead.day) for pair, shelf in self.shelves.items()},
            self.on_the_way,
            self.committed,
        )
        placed: list[Arrival] = []
        for draft in placed_on(ahead, self.policy, self.pars, self._prospect(ahead), stand):
            key = draft.supplier, draft.location, draft.slot.delivery
            self.committed[key] = self.committed.get(key, Decimal(0)) + draft.value
            number = self._number(draft.supplier, draft.slot.delivery)
            placed += order_lines(draft, number, ahead.day, lambda pair: self.shelves[pair].line)
        return placed

    def _prospect(self, ahead: DayAhead) -> Prospect:
        if self.policy.rule is None:
            return forecast_of(ahead)
        began = self.given.began
        past = {
            pair: PastUse.of(shelf.line, ahead.day, began)
            for pair, shelf in self.shelves.items()
            if pair in ahead.due
        }
        return means_of(ahead, self.policy.rule, past)

    def _number(self, supplier: str, delivery: date) -> str:
        """Supplier, delivery day and count, as a draft is numbered."""
        count = 1
        while (number := f"{supplier}-{delivery:%Y%m%d}-{count}") in self.numbers:
            count += 1
        self.numbers.add(number)
        return number

    def result(self) -> PolicyReplay:
        shelves = tuple(self.shelves.values())
        return PolicyReplay(self.policy, shelves, tuple(self.placed), self.without_par)


def _by_pair(
    coming: Iterable[Arrival], shelves: dict[Pair, LineShelf]
) -> dict[Pair, list[Arrival]]:
    """Of every line what is on the way to it; of what is no line nothing is known."""
    found: dict[Pair, list[Arrival]] = {pair: [] for pair in shelves}
    for one in coming:
        if (one.location, one.item) in found:
            found[one.location, one.item].append(one)
    return found
