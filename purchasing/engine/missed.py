"""What a missed base unit costs: the shortage cost of R10, exactly."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from purchasing.engine.real_use import Pair, RealUse

Cost = Callable[[Pair, date], Fraction | None]


@dataclass(frozen=True, slots=True)
class Margins:
    """``price``: of what is sold, money per base unit; ``left_off``: what can be left off a
    dish; ``cost``: money per base unit bought, at the first choice's price for one case;
    ``leave_share``: of the guests whose dish is missing, how many leave rather than choose
    another; ``use``: through which dishes things are used, or expected to be."""

    price: Mapping[str, Fraction]
    left_off: frozenset[str]
    cost: Cost
    leave_share: Fraction
    use: RealUse

    def shortage_cost(self, pair: Pair, days: Sequence[date]) -> Fraction | None:
        """Money per base unit missed on ``days``, at the prices of the first of them; None
        where no margin is known."""
        item = pair[1]
        if item not in self.price and item not in self.left_off:
            return self._through_dishes(pair, days)
        unit_cost = self.cost(pair, days[0])
        if unit_cost is None or item not in self.price:
            return unit_cost
        return self.price[item] - unit_cost

    def _through_dishes(self, pair: Pair, days: Sequence[date]) -> Fraction | None:
        """Over the dishes that use it on those days: share of its usage x margin of the dish
        ÷ its quantity in the dish x the share of guests who leave."""
        used: dict[Pair, Fraction] = defaultdict(Fraction)
        by_day = self.use.through.get(pair, {})
        for day in days:
            for sold, qty in by_day.get(day, {}).items():
                used[sold] += qty
        total = sum(used.values(), Fraction(0))
        known = [
            qty / total * margin / self.use.bought_for(*sold)[pair]
            for sold, qty in used.items()
            if qty and (margin := self._margin(*sold, days[0])) is not None
        ]
        return sum(known, Fraction(0)) * self.leave_share if known else None

    def _margin(self, place: str, dish: str, day: date) -> Fraction | None:
        """Price less plate cost; None where either is not known."""
        taken = self.use.bought_for(place, dish)
        costs = [(self.cost(one, day), qty) for one, qty in taken.items()]
        if dish not in self.price or any(cost is None for cost, _ in costs):
            return None
        plate = sum((cost * qty for cost, qty in costs if cost is not None), Fraction(0))
        return self.price[dish] - plate
