"""Cases by cost with the orders that follow in view (R10).

What is ordered now meets the orders after it on the shelf: a case left out today can be ordered
tomorrow, and what is left of it tomorrow spares another. So the cost of R10 (lost margin, waste,
holding) is counted over this order and the later ones of two lives, on every path. Each later
order fills up to a par from what the path has by then; the par is the one that costs least on
the same paths. That is one step of policy improvement from the best par ("rollout": Bertsekas,
*Dynamic Programming and Optimal Control*, vol. I, section 6.4). Stock is counted less what
expires before the delivery, as Broekmeulen and van Donselaar do (*Computers & Operations
Research* 36 (2009) 3013), but by its chance instead of at mean use: stock that just meets the
mean leaves something over on every other path. At mean use the best par alone is up to 11 %
dearer than the optimum, by its chance up to 3 % (cases of tests/benchmarks/perishable.py with
Poisson demand, each decision judged by ``Solution.regret``).

I lines, K lots each, P paths.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from inventory.engine.kitchen import TOLERANCE
from inventory.engine.projection import Bools, Floats, draw_down
from inventory.engine.weighted import mean
from purchasing.engine.ahead import Ahead, Places, Refill, Span
from purchasing.engine.inputs import Offer
from purchasing.engine.lines import Line, cases_for, next_allowed

DAYS_PER_YEAR = 365
# Pars tried: mean use carried plus so many standard deviations; then beside the best. The cost
# is flat around the best par, and the order itself is searched for.
SAFETIES = (0.0, 1.5, 3.0)
FINER = (0.75, 0.375)
# Large counts are searched for in steps of at most so many standard deviations first.
COARSE = 0.25
# A smaller gain than this share of the cost is rounding, not a reason for one more case.
SAME_COST = 1e-12
SMALLEST = 1e-12  # base units: keeps a spread of nothing from dividing by nothing

Counts = npt.NDArray[np.int64]


def cheapest_ahead(lines: Sequence[Line], weights: Floats) -> list[int]:
    """Cases of each line, all with orders in view, that cost least; ties go to fewer."""
    ahead = Ahead.of(lines, weights)
    safety = best_safety(ahead.on_few_paths())
    packs = np.array([line.offer.pack_base for line in lines])
    start = np.rint(filled_up(ahead, safety) / packs).astype(np.int64)

    def cost_of(rows: Places, cases: Counts) -> Floats:
        asked = ahead if len(rows) == len(lines) else ahead.part(rows)
        return cost_ahead(asked, packs[rows] * cases, safety[rows])

    return _descended(lines, start, _strides(ahead, packs), cost_of)


def cost_ahead(ahead: Ahead, first: Floats, safety: Floats) -> Floats:
    """(I,) expected money of R10 over the view with ``first`` (I,) base units ordered now and
    later orders at a par of ``safety`` (I,) standard deviations; what no order changes left
    out. Waste counts until each lot's use-by, shortages to the end of the view."""
    lines, rows = ahead.lines, np.arange(len(ahead.lines))
    left = np.repeat(ahead.stock[:, :, None], len(ahead.weights), axis=2)
    lost, held = np.zeros_like(left[:, 0]), np.zeros_like(left[:, 0])
    qty = np.repeat(first[:, None], len(ahead.weights), axis=1)
    for refill, span in zip(ahead.refills, ahead.spans, strict=True):
        if refill is not ahead.refills[0]:
            qty = _refilled(left, refill, safety, lines)
        left[rows, refill.lot] += qty
        held += qty * ahead.nights_in_view[rows, refill.lot][:, None]
        _serve(left, span, lost, held)
    wasted = _wasted(left, ahead, held)
    margin = np.array([line.shortage_cost or 0.0 for line in lines])
    unit_cost = np.array([line.unit_cost for line in lines])
    rate = np.array([line.holding_rate for line in lines]) / DAYS_PER_YEAR
    means = (mean(each, ahead.weights) for each in (lost, wasted, held))
    return np.asarray(sum(np.array([margin, unit_cost, unit_cost * rate]) * np.array([*means])))


def _serve(left: Floats, span: Span, lost: Floats, held: Floats) -> None:
    """The draws of ``span`` taken from ``left``; what is missed and held added up."""
    short = draw_down(left, span.serves, span.qty)
    for j in range(short.shape[1]):
        lost += np.where(span.missed[:, j, None], short[:, j], 0.0)
        held -= (span.qty[:, j] - short[:, j]) * span.nights[:, j, None]


def _wasted(left: Floats, ahead: Ahead, held: Floats) -> Floats:
    """(I, P) what all lots leave at their use-by; taken off ``held`` from then on.

    O_j = max(O_j-1, C_j - X_j): of the first j lots so much is gone, C_j being their stock at
    the end of the view and X_j what is drawn from then to the use-by of lot j (Nahmias 1975,
    Fries 1975; inventory-theory.md, section 5.1). Orders after the view change nothing: what
    they bring is used later.
    """
    stock, gone = np.zeros_like(left[:, 0]), np.zeros_like(left[:, 0])
    for k in range(left.shape[1]):
        stock += left[:, k]
        by_now = np.maximum(gone, stock - ahead.drawn_after[:, k])
        held -= (by_now - gone) * ahead.nights_gone[:, k, None]
        gone = by_now
    return gone


def _refilled(left: Floats, refill: Refill, safety: Floats, lines: Sequence[Line]) -> Floats:
    """(I, P) base units that a later order brings."""
    par = refill.carried + safety * refill.spread
    need = np.where(refill.placed[:, None], par[:, None] - expected_there(left, refill), 0.0)
    return whole_cases(need, lines)


def expected_there(left: Floats, refill: Refill) -> Floats:
    """(I, P) of the lots ``left`` (I, K, P) when an order is decided, what will be there on
    average when it comes: those that expire before are used first, as far as their days allow,
    and what is not there cannot be used."""
    there = np.zeros_like(left[:, 0])
    for _, qty in _one_by_one(left, refill.lasting):
        there += qty
    over = _used_of_passing(left, refill)
    over += there
    over -= refill.meanwhile[:, None]
    return np.minimum(mean_above(over, refill.meanwhile_give), there)


def _used_of_passing(left: Floats, refill: Refill) -> Floats:
    """(I, P) of the lots that expire before the order comes: the recursion of ``_wasted`` on
    averages, lot by lot."""
    stock, gone = np.zeros_like(left[:, 0]), np.zeros_like(left[:, 0])
    everyone = np.arange(len(left))
    for lots, qty in _one_by_one(left, refill.passing):
        stock += qty
        over = stock - gone
        over -= refill.in_time[everyone, lots][:, None]
        gone += mean_above(over, refill.in_time_give[everyone, lots])
        np.minimum(gone, stock, out=gone)
    stock -= gone
    return stock


def mean_above(excess: Floats, give: Floats) -> Floats:
    """(I, P) the mean of what is above 0 of ``excess`` (I, P), which is used up, spread evenly by
    up to ``give`` (I,) either way."""
    excess += give[:, None]
    inside = np.clip(excess, 0.0, 2.0 * give[:, None])
    excess -= inside
    np.maximum(excess, 0.0, out=excess)
    inside *= inside
    inside *= 0.25 / np.maximum(give, SMALLEST)[:, None]
    inside += excess
    return inside


def _one_by_one(left: Floats, which: Bools) -> Iterator[tuple[Places, Floats]]:
    """First of each line its first lot of ``which`` (I, K), then the second, and so on: the lots
    (I,) and what is left of them (I, P), nothing where a line has no more."""
    counts, everyone = which.sum(axis=1), np.arange(len(left))
    asked_first = np.argsort(~which, axis=1, kind="stable")
    for nth in range(int(counts.max(initial=0))):
        qty = left[everyone, asked_first[:, nth]]
        qty[counts <= nth] = 0.0
        yield asked_first[:, nth], qty


def whole_cases(need: Floats, lines: Sequence[Line]) -> Floats:
    """(I, P) base units of the fewest cases for ``need`` (I, P): R7 on arrays."""
    pack = np.array([line.offer.pack_base for line in lines])[:, None]
    least = np.array([line.offer.minimum_cases for line in lines])[:, None]
    multiple = np.array([line.offer.case_multiple for line in lines])[:, None]
    packs = np.maximum(np.ceil((need - TOLERANCE) / pack), least)
    cases = np.ceil(packs / multiple) * multiple
    return np.where(need > TOLERANCE, cases * pack, 0.0)


def filled_up(ahead: Ahead, safety: Floats) -> Floats:
    """(I,) base units that this order brings by the par of the later ones."""
    return _refilled(ahead.stock[:, :, None], ahead.refills[0], safety, ahead.lines)[:, 0]


def best_safety(ahead: Ahead) -> Floats:
    """(I,) standard deviations above mean use for the par that costs least if this order goes
    by it as well."""
    best, lowest = _better(ahead, [np.full(len(ahead.lines), each) for each in SAFETIES])
    for step in FINER:
        beside, cost = _better(ahead, [best - step, best + step])
        best, lowest = np.where(cost < lowest, beside, best), np.minimum(cost, lowest)
    return best


def _better(ahead: Ahead, tried: Sequence[Floats]) -> tuple[Floats, Floats]:
    """(I,) the cheapest of several safeties, the smallest of equals, and its cost."""
    costs = np.array([cost_ahead(ahead, filled_up(ahead, each), each) for each in tried])
    choice = costs.argmin(axis=0)[None]
    safeties = np.take_along_axis(np.array(tried), choice, axis=0)[0]
    return safeties, np.take_along_axis(costs, choice, axis=0)[0]


def _strides(ahead: Ahead, packs: Floats) -> Counts:
    """(I,) first step of the search in cases, a power of two."""
    wide = np.maximum(1.0, COARSE * ahead.refills[0].spread / packs)
    return np.asarray(2 ** np.floor(np.log2(wide))).astype(np.int64)


def _descended(
    lines: Sequence[Line],
    cases: Counts,
    strides: Counts,
    cost_of: Callable[[Places, Counts], Floats],
) -> list[int]:
    """Step by step up while that is cheaper, else down while that is no dearer, with steps
    halved to one; all lines go together."""
    everyone = np.arange(len(lines))
    lowest = cost_of(everyone, cases)
    while True:
        start = cases.copy()
        for step in (_more, _fewer):
            rows = np.flatnonzero(cases == start)
            while len(rows):
                tried = np.array(
                    [step(lines[i].offer, cases[i], strides[i]) for i in rows.tolist()]
                )
                found = cost_of(rows, tried)
                margin = SAME_COST * np.abs(lowest[rows])
                cheaper = found < lowest[rows] - margin
                cheaper |= (found <= lowest[rows] + margin) & (tried < cases[rows])
                rows, tried, found = rows[cheaper], tried[cheaper], found[cheaper]
                cases[rows], lowest[rows] = tried, found
        if (strides == 1).all():
            return [int(n) for n in cases]
        strides = np.maximum(1, strides // 2)


def _more(offer: Offer, cases: int, stride: int) -> int:
    return next_allowed(int(cases) + (int(stride) - 1) * offer.case_multiple, offer)


def _fewer(offer: Offer, cases: int, stride: int) -> int:
    return previous_allowed(int(cases) - (int(stride) - 1) * offer.case_multiple, offer)


def previous_allowed(cases: int, offer: Offer) -> int:
    """The next count below ``cases``, an allowed one, that the offer permits."""
    fewer = cases - offer.case_multiple
    return fewer if fewer > 0 and cases_for(fewer * offer.pack_base, offer) == fewer else 0
