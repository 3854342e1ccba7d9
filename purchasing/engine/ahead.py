"""What lies ahead of an order line: its draws, and the orders that can still follow (R10).

I lines, up to N later orders and K lots each (padded with nothing), P paths. Days are proleptic
ordinals. The view runs to the delivery of the last later order, which is not placed itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import timedelta
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inventory.engine.draws import Draws
from inventory.engine.projection import UNDATED, Bools, Floats, Lots
from inventory.engine.weighted import mean
from purchasing.engine.lines import LaterOrder, Line
from purchasing.engine.outlook import last_rates, padded

# Measured against the optimum (tests/benchmarks/perishable.py): with the orders of one life the
# answer is up to 2 % dearer, with those of three it is no better. Of short lives two are too few
# for cases of several days: up to 9 % dearer than with a week in view.
LIVES_IN_VIEW = 2
LEAST_DAYS_IN_VIEW = 7
# Goods that keep for weeks are hardly ever wasted by one order more; this bounds the work.
ORDERS_IN_VIEW = 14  # later ones
FEW_PATHS = 250  # enough to choose a par
EVENLY = 3**0.5  # half the width of an even spread : its standard deviation

Places = npt.NDArray[np.intp]
Days = npt.NDArray[np.integer]


def orders_in_view(line: Line) -> tuple[LaterOrder, ...]:
    """The later orders of two lives, a week at least, and last the one that ends the view.
    Empty where the order stands alone: undated, gone before D2, or nothing known of later."""
    if line.life is None or line.last_day is None or line.last_day < line.window.end:
        return ()
    until = line.window.start + days_in_view(line.life)
    if line.known_until is not None:
        until = min(until, line.known_until)
    within = [one for one in line.later if one.delivery <= until]
    view = within[: ORDERS_IN_VIEW + 1]
    return tuple(view) if len(view) > 1 else ()


def days_in_view(life: int) -> timedelta:
    """From D1 on."""
    return timedelta(days=max(LEAST_DAYS_IN_VIEW, LIVES_IN_VIEW * life))


@dataclass(frozen=True, slots=True)
class Span:
    """What is drawn between two decisions. ``qty`` (I, J, P); ``serves`` (I, J, K) as in the
    projection; ``missed`` (I, J): this order or a later one can prevent a shortage; ``nights``
    (I, J) from the draw to the end of the view."""

    qty: Floats
    serves: Bools
    missed: Bools
    nights: Floats

    def part(self, rows: Places) -> Span:
        parts = (self.qty[rows], self.serves[rows], self.missed[rows], self.nights[rows])
        return Span(*parts)


@dataclass(frozen=True, slots=True)
class Refill:
    """An order that fills up to a par. ``placed`` (I,) whether the line has it; ``lot`` (I,)
    what it brings; ``passing``, ``lasting`` (I, K) lots that serve when it is decided and
    expire before it comes, or do not; ``in_time`` (I, K) mean use from the decision to the
    use-by of the passing ones, ``meanwhile`` (I,) until it comes, each with a ``give``: half the
    width of an even spread as wide; ``carried``, ``spread`` (I,) mean use until the next comes,
    and the standard deviation from the decision to then."""

    placed: Bools
    lot: Places
    passing: Bools
    lasting: Bools
    in_time: Floats
    in_time_give: Floats
    meanwhile: Floats
    meanwhile_give: Floats
    carried: Floats
    spread: Floats

    def part(self, rows: Places) -> Refill:
        return Refill(*(getattr(self, one.name)[rows] for one in fields(self)))


@dataclass(frozen=True, slots=True)
class Ahead:
    """``refills``: this order, then the later ones; ``spans``: what is drawn from now on until
    the next decision, ``spans[n]`` before ``refills[n + 1]``. ``stock`` (I, K) base units there
    or on order; ``drawn_after`` (I, K, P) from the end of the view to each use-by, without end for
    the undated; ``nights_in_view``, ``nights_gone`` (I, K) from arrival, and from
    use-by, to the end of the view."""

    lines: Sequence[Line]
    weights: Floats
    stock: Floats
    refills: Sequence[Refill]
    spans: Sequence[Span]
    drawn_after: Floats
    nights_in_view: Floats
    nights_gone: Floats

    @classmethod
    def of(cls, lines: Sequence[Line], weights: Floats) -> Ahead:
        """Lines with orders in view."""
        views = [View.of(line, weights) for line in lines]
        most = range(max(len(view.comes) for view in views))
        lots = [view.lots for view in views]
        arrives = [np.maximum(0.0, view.end - view.lots.arrives_on) for view in views]
        expires = [np.maximum(0.0, view.end - 1.0 - view.lots.use_by) for view in views]
        return cls(
            lines=lines,
            weights=weights,
            stock=padded([each.qty for each in lots], 0.0),
            refills=[_refill(views, n) for n in most],
            spans=[_span(views, n) for n in most],
            drawn_after=padded([view.drawn_after() for view in views], np.inf),
            nights_in_view=padded(arrives, 0.0),
            nights_gone=padded(expires, 0.0),
        )

    def part(self, rows: Places) -> Ahead:
        """Of some of the lines only."""
        return replace(
            self,
            lines=[self.lines[row] for row in rows.tolist()],
            stock=self.stock[rows],
            refills=[refill.part(rows) for refill in self.refills],
            spans=[span.part(rows) for span in self.spans],
            drawn_after=self.drawn_after[rows],
            nights_in_view=self.nights_in_view[rows],
            nights_gone=self.nights_gone[rows],
        )

    def on_few_paths(self) -> Ahead:
        """On a part of the paths, evenly taken."""
        every = max(1, len(self.weights) // FEW_PATHS)
        weights = self.weights[::every]
        return replace(
            self,
            weights=weights / weights.sum(),
            spans=[replace(span, qty=span.qty[:, :, ::every]) for span in self.spans],
            drawn_after=self.drawn_after[:, :, ::every],
        )


@dataclass(frozen=True)
class View:
    """One line. ``lots``: what is there or on order and, empty, what this order and the later
    ones bring, at ``new``; ``decided``, ``comes``: days of all orders, this one first (it is
    decided now: day 0); ``end``: day on which the view ends; ``total`` (J + 1, P) drawn before
    each draw, as far as anything asks; ``cuts``: how many draws come before each decision, and
    how many are in view."""

    line: Line
    weights: Floats
    lots: Lots
    new: Places
    decided: tuple[int, ...]
    comes: tuple[int, ...]
    end: int
    total: Floats
    cuts: tuple[int, ...]

    @classmethod
    def of(cls, line: Line, weights: Floats) -> View:
        *later, last = orders_in_view(line)
        this = LaterOrder(line.window.start, line.window.start, line.window.start_hour)
        lots, new = _with_arrivals(line, [this, *later])
        total = _summed(line.draws, max(last.delivery.toordinal(), *_dated(lots)))
        window = replace(line.window, end=last.delivery, end_hour=last.hour)
        inside = int((window.is_before(line.draws) | window.holds(line.draws)).sum())
        decided = [0, *(one.decided.toordinal() for one in later)]
        cuts = np.minimum(np.searchsorted(line.draws.day, decided), inside)
        return cls(
            line=line,
            weights=weights,
            lots=lots,
            new=new,
            decided=tuple(decided),
            comes=tuple(one.delivery.toordinal() for one in (this, *later)),
            end=last.delivery.toordinal(),
            total=total,
            cuts=(*cuts.tolist(), inside),
        )

    @cached_property
    def uses(self) -> Floats:
        """(N, 4) of each order: mean use until it comes and its give, mean use that it carries,
        spread of both together."""
        decided, comes = (self.total[self._at(days)] for days in (self.decided, self.comes))
        following = self.total[self._at((*self.comes[1:], self.end))]
        until, carried, both = comes - decided, following - comes, following - decided
        means = (mean(use, self.weights) for use in (until, carried))
        spreads = (self._spread(use) for use in (until, both))
        (before, after), (give, spread) = means, spreads
        return np.stack([before, EVENLY * give, after, spread], axis=1)

    @cached_property
    def met(self) -> Bools:
        """(2, N, K) of each order the passing and the lasting lots."""
        use_by, days = self.lots.use_by, np.array([*self.comes, self.end])[:, None]
        comes, following = days[:-1], days[1:]
        passing = (use_by >= np.array(self.decided)[:, None]) & (use_by < comes)
        return np.stack([passing, (use_by >= comes) & (self.lots.arrives_on < following)])

    @cached_property
    def used_in_time(self) -> Floats:
        """(2, N, K) of each order: mean use from the decision to the use-by of each passing lot,
        and its give. Without end where a lot does not pass; of lots that go on one day the last
        stands for all."""
        use_by, decided = self.lots.use_by, np.array(self.decided)
        passing = self.met[0].copy()
        passing[:, :-1] &= use_by[1:] != use_by[:-1]
        order, lot = np.nonzero(passing)
        used = self.total[self._at(use_by[lot] + 1)] - self.total[self._at(decided[order])]
        found = np.stack([np.full(passing.shape, np.inf), np.zeros(passing.shape)])
        found[0, order, lot] = mean(used, self.weights)
        found[1, order, lot] = EVENLY * self._spread(used)
        return found

    def _spread(self, use: Floats) -> Floats:
        """(N,) standard deviation of each row (N, P)."""
        off = use - mean(use, self.weights)[:, None]
        return np.asarray(mean(off**2, self.weights) ** 0.5)

    def drawn_after(self) -> Floats:
        """(K, P) from the end of the view to the use-by of each lot that outlives it; beyond
        the last day known usage goes on as on the last ones."""
        found = np.zeros((len(self.lots.qty), len(self.weights)))
        known = self.line.known_until
        rate = last_rates([self.line], len(self.weights))[0]
        found[self.lots.use_by == UNDATED] = np.inf
        for k, use_by in enumerate(self.lots.use_by.tolist()):
            if self.end <= use_by < UNDATED:
                found[k] = self.total[self._at([use_by + 1])[0]] - self.total[self.cuts[-1]]
                found[k] += rate * max(0, 0 if known is None else use_by - known.toordinal())
        return found

    def between_decisions(self, n: int) -> Draws:
        """The draws in view from the decision on order ``n`` to that on the next."""
        last = n >= len(self.decided)
        part = slice(0, 0) if last else slice(self.cuts[n], self.cuts[n + 1])
        draws = self.line.draws
        return Draws(draws.moment[part], draws.day[part], draws.day_of_use[part], draws.qty[part])

    def _at(self, days: Sequence[int] | Days) -> Places:
        """How many draws come before each of the days."""
        return np.searchsorted(self.line.draws.day, days)


def _summed(draws: Draws, last: int) -> Floats:
    """(J + 1, P) drawn before each draw of the days up to ``last``."""
    count = int(np.searchsorted(draws.day, last + 1))
    total = np.zeros((count + 1, draws.qty.shape[1]))
    np.cumsum(draws.qty[:count], axis=0, out=total[1:])
    return total


def _dated(lots: Lots) -> list[int]:
    return [use_by for use_by in lots.use_by.tolist() if use_by < UNDATED]


def _with_arrivals(line: Line, orders: Sequence[LaterOrder]) -> tuple[Lots, Places]:
    """Empty lots that the orders bring, last among equals, and their positions."""
    here, life = line.lots, line.life or 0
    days = np.array([one.delivery.toordinal() for one in orders], dtype=np.int32)
    hours = np.array([one.hour for one in orders], dtype=np.int64)
    use_by = np.concatenate([here.use_by, days + np.int32(life)])
    received = np.concatenate([here.received, days])
    order = np.lexsort((received, use_by))
    lots = Lots(
        np.concatenate([here.qty, np.zeros(len(days))])[order],
        use_by[order],
        received[order],
        np.concatenate([here.arrives_on, days])[order],
        np.concatenate([here.arrives_at, hours])[order],
    )
    return lots, np.argsort(order)[len(here.qty) :]


def _span(views: Sequence[View], n: int) -> Span:
    parts = [view.between_decisions(n) for view in views]
    pairs = list(zip(views, parts, strict=True))
    return Span(
        qty=padded([part.qty for part in parts], 0.0),
        serves=padded([view.lots.serving(part) for view, part in pairs], False),
        missed=padded([~view.line.window.is_before(part) for view, part in pairs], False),
        nights=padded([(view.end - part.day).astype(float) for view, part in pairs], 0.0),
    )


def _refill(views: Sequence[View], n: int) -> Refill:
    placed = np.array([n < len(view.comes) for view in views])
    at = [min(n, len(view.comes) - 1) for view in views]
    met = [view.met[:, k] & here for view, k, here in zip(views, at, placed, strict=True)]
    uses = np.array([view.uses[n] if n < len(view.comes) else np.zeros(4) for view in views]).T
    in_time = [view.used_in_time[:, k] for view, k in zip(views, at, strict=True)]
    return Refill(
        placed=placed,
        lot=np.array([view.new[k] for view, k in zip(views, at, strict=True)], dtype=np.intp),
        passing=padded([passing for passing, _ in met], False),
        lasting=padded([lasting for _, lasting in met], False),
        in_time=padded([each[0] for each in in_time], np.inf),
        in_time_give=padded([each[1] for each in in_time], 0.0),
        meanwhile=uses[0],
        meanwhile_give=uses[1],
        carried=uses[2],
        spread=uses[3],
    )
