"""The cost of an order with later ones in view, played day by day on one path after the other.

A second writing of purchasing/engine/rollout.py in plain loops, without its arrays. Days are
ordinals; draws have no hour.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import ceil
from statistics import fmean, pstdev

from purchasing.engine.ahead import orders_in_view
from purchasing.engine.lines import Line

# Mean use from one day to the eve of another, and half the width of an even spread as wide.
Usual = Callable[[int, int], tuple[float, float]]


@dataclass
class Lot:
    comes: int
    use_by: int
    qty: float


@dataclass
class Path:
    """``use`` by day; ``orders``: day of decision, delivery and next delivery of this order and
    the later ones; ``usual`` over all paths; ``money`` so far."""

    line: Line
    usual: Usual
    use: dict[int, float]
    orders: list[tuple[int, int, int]]
    lots: list[Lot]
    money: float = 0.0

    def play(self, first: float, pars: list[float]) -> float:
        end, life = self.orders[-1][2], self.line.life or 0
        last = max([end + life, *(lot.use_by for lot in self.lots)])
        self._order(0, first)
        for day in range(min(self.use), last + 1):
            for n, (decided, _, _) in enumerate(self.orders):
                if n and day == decided:
                    self._order(n, self._in_cases(pars[n] - self._there(n)))
            self._day(day, counts=day < end)
        return self.money

    def _order(self, n: int, qty: float) -> None:
        comes = self.orders[n][1]
        self.lots.append(Lot(comes, comes + (self.line.life or 0), qty))

    def _in_cases(self, need: float) -> float:
        if need <= 1e-6:
            return 0.0
        offer = self.line.offer
        cases = max(ceil((need - 1e-6) / offer.pack_base), offer.minimum_cases)
        return ceil(cases / offer.case_multiple) * offer.case_multiple * offer.pack_base

    def _there(self, n: int) -> float:
        decided, comes, after = self.orders[n]
        passing: dict[int, float] = {}
        lasting = 0.0
        for lot in self.lots:
            if decided <= lot.use_by < comes:
                passing[lot.use_by] = passing.get(lot.use_by, 0.0) + lot.qty
            elif lot.use_by >= comes and lot.comes < after:
                lasting += lot.qty
        stock = gone = 0.0
        for use_by, qty in sorted(passing.items()):
            stock += qty
            used, give = self.usual(decided, use_by + 1)
            gone = min(stock, gone + mean_of_the_part_above(stock - gone - used, give))
        used, give = self.usual(decided, comes)
        return min(lasting, mean_of_the_part_above(lasting + stock - gone - used, give))

    def _day(self, day: int, counts: bool) -> None:
        want = self.use.get(day, 0.0)
        for lot in sorted(self.lots, key=lambda lot: (lot.use_by, lot.comes)):
            if lot.comes <= day <= lot.use_by:
                taken = min(want, lot.qty)
                lot.qty -= taken
                want -= taken
        line = self.line
        if counts and day >= self.orders[0][1]:
            self.money += want * (line.shortage_cost or 0.0)
        if counts:
            held = sum(lot.qty for lot in self.lots if lot.comes <= day <= lot.use_by)
            self.money += held * line.unit_cost * line.holding_rate / 365
        for lot in self.lots:
            if lot.use_by == day:
                self.money += lot.qty * line.unit_cost
                lot.qty = 0.0


def mean_of_the_part_above(middle: float, give: float) -> float:
    """Of an even spread over ``middle`` - ``give`` to ``middle`` + ``give`` what lies above 0:
    the share of it that does, times the middle of that share."""
    low, high = middle - give, middle + give
    if high <= 0:
        return 0.0
    if low >= 0:
        return middle
    return high / (high - low) * high / 2


def plain_cost(line: Line, first: float, safety: float) -> float:
    """Expected money over equally likely paths; what ``first`` does not change included."""
    days = line.draws.day.tolist()
    paths = [dict(zip(days, use, strict=True)) for use in line.draws.qty.T.tolist()]
    *later, last = orders_in_view(line)
    comes = [line.window.start, *(one.delivery for one in later), last.delivery]
    decided = [days[0], *(one.decided.toordinal() for one in later)]
    orders = [
        (decided[n], comes[n].toordinal(), comes[n + 1].toordinal()) for n in range(len(decided))
    ]

    @cache
    def usual(start: int, end: int) -> tuple[float, float]:
        used = [_drawn(use, start, end) for use in paths]
        return fmean(used), 3**0.5 * pstdev(used)

    pars = [
        usual(start, end)[0] + safety * pstdev(_drawn(use, asked, end) for use in paths)
        for asked, start, end in orders
    ]
    known = zip(line.lots.arrives_on, line.lots.use_by, line.lots.qty, strict=True)
    stock = [(int(day), int(use_by), float(qty)) for day, use_by, qty in known]
    return fmean(
        Path(line, usual, use, orders, [Lot(*lot) for lot in stock]).play(first, pars)
        for use in paths
    )


def _drawn(use: dict[int, float], start: int, end: int) -> float:
    return sum(qty for day, qty in use.items() if start <= day < end)
