"""What a missed base unit costs on a day that has been: the shortage cost of R10, exactly."""

from __future__ import annotations

from collections.abc import Callable, Mapping
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
    another."""

    price: Mapping[str, Fraction]
    left_off: frozenset[str]
    cost: Cost
    leave_share: Fraction
    use: RealUse

    def shortage_cost(self, pair: Pair, day: date) -> Fraction | None:
        """Money per base unit; None where no margin is known."""
        unit_cost = self.cost(pair, day)
        if pair[1] in self.price:
            return None if unit_cost is None else self.price[pair[1]] - unit_cost
        if pair[1] in self.left_off:
            return unit_cost
        return self._through_dishes(pair, day)

    def _through_dishes(self, pair: Pair, day: date) -> Fraction | None:
        """Over the dishes that used it that day: share of its usage x margin of the dish ÷ its
        quantity in the dish x the share of guests who leave."""
        used = self.use.through.get(pair, {}).get(day, {})
        total = sum(used.values(), Fraction(0))
        known = [
            qty / total * margin / self.use.bought_for(*sold)[pair]
            for sold, qty in used.items()
            if qty and (margin := self._margin(*sold, day)) is not None
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
