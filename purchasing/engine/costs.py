"""What a quantity costs: lost margin, waste, money tied up (R10, R13)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from inventory.engine.kitchen import TOLERANCE
from inventory.engine.projection import Floats, Projected
from inventory.engine.weighted import chance, mean
from purchasing.engine.ahead import orders_in_view
from purchasing.engine.lines import Line, next_allowed
from purchasing.engine.outlook import Outlook, columns_of, in_chunks
from purchasing.engine.rollout import cheapest_ahead

DAYS_PER_YEAR = 365
# A smaller gain than this share of the cost is rounding, not a reason for one more case.
SAME_COST = 1e-12


@dataclass(frozen=True, slots=True)
class Outcome:
    """Means over the paths with a quantity ordered, each (I,): base units ``lost`` in the
    window and ``wasted`` of the new lot, chance that any of it is wasted, unit-days ``held``."""

    lost: Floats
    wasted: Floats
    waste_chance: Floats
    held: Floats


def outcome(outlook: Outlook, qty: Floats) -> Outcome:
    """What comes of ordering ``qty`` (I,) base units."""
    projected, weights = outlook.with_order(qty), outlook.weights
    late = outlook.late
    left = outlook.left_of_order(projected)
    return Outcome(
        lost=mean(late.total(projected.short, late.window), weights),
        wasted=mean(left, weights),
        waste_chance=chance(left > TOLERANCE, weights),
        held=mean(_held(outlook, projected, qty), weights),
    )


def _held(outlook: Outlook, projected: Projected, qty: Floats) -> Floats:
    """(I, P) unit-days by which the order lifts the stock at the close of a day, from D1 to
    the new lot's use-by (to the eve of D2 if undated). The order leaves the stock by meeting
    what would have been lost."""
    last = np.array([last_day_held(line) for line in outlook.lines])
    first = np.array([line.window.start.toordinal() for line in outlook.lines])
    days_after = np.maximum(last[:, None] - outlook.late.day + 1, 0)
    served = np.zeros((len(last), len(outlook.weights)))
    for j in columns_of(days_after > 0):
        met = outlook.without.short[:, j] - projected.short[:, j]
        served += met * days_after[:, j, None]
    return np.asarray((qty * (last - first + 1))[:, None] - served)


def last_day_held(line: Line) -> int:
    """Ordinal of the last day on which holding is counted from the projection."""
    last = line.window.end - timedelta(days=1) if line.last_day is None else line.last_day
    if line.known_until is not None:
        last = max(line.window.start, min(last, line.known_until))
    return last.toordinal()


def holding_cost(
    value: Floats | float, rate_per_year: Floats | float, days: Floats | float
) -> Floats:
    """Money: value x yearly rate x days / 365 (R10)."""
    return np.asarray(value * rate_per_year * np.asarray(days) / DAYS_PER_YEAR)


def cost(outlook: Outlook, qty: Floats) -> Floats:
    """(I,) expected money of R10: shortage in the window, what is left of the new lot at its
    use-by, and holding. Lines whose shortage cost is not known count none."""
    result = outcome(outlook, qty)
    unit_cost = np.array([line.unit_cost for line in outlook.lines])
    margin = np.array([line.shortage_cost or 0.0 for line in outlook.lines])
    rate = np.array([line.holding_rate for line in outlook.lines])
    held = holding_cost(unit_cost * rate, 1.0, result.held)
    return np.asarray(result.lost * margin + result.wasted * unit_cost + held)


def lost_margin(lines: Sequence[Line], ordered: Sequence[float], weights: Floats) -> float:
    """Expected money lost in the windows of ``lines`` if what is ordered (base units) is not.
    The shortage cost of every line must be known."""
    total = 0.0
    for positions, outlook in in_chunks(lines, weights):
        qty = np.array([ordered[i] for i in positions])
        margin = np.array([line.shortage_cost or 0.0 for line in outlook.lines])
        missed = outcome(outlook, 0 * qty).lost - outcome(outlook, qty).lost
        total += float((missed * margin).sum())
    return total


def cheapest_cases(outlook: Outlook) -> list[int | None]:
    """Cases with the lowest expected cost; None for lines of another basis and where the
    shortage cost is not known (R10). Ties go to fewer cases. Where later orders are in view
    they count as well."""
    lines, weights = outlook.lines, outlook.weights
    asked = [i for i, line in enumerate(lines) if _is_by_cost(line)]
    followed = [i for i in asked if orders_in_view(lines[i])]
    alone = [i for i in asked if i not in followed]
    found = dict[int, int]()
    if followed:
        by_view = cheapest_ahead([lines[i] for i in followed], weights)
        found.update(zip(followed, by_view, strict=True))
    if alone:
        whole = len(alone) == len(lines)
        by_itself = _climb(outlook if whole else Outlook.of([lines[i] for i in alone], weights))
        found.update(zip(alone, by_itself, strict=True))
    return [found.get(i) for i in range(len(lines))]


def _is_by_cost(line: Line) -> bool:
    return line.terms.basis == "cost" and line.shortage_cost is not None


def _climb(outlook: Outlook) -> list[int]:
    """The cost is convex in the quantity, so each line goes up by allowed counts to the first
    that is no cheaper; all lines that still climb go together."""
    packs = np.array([line.offer.pack_base for line in outlook.lines])
    best = np.zeros(len(packs), dtype=np.int64)
    lowest = cost(outlook, np.zeros(len(packs)))
    rows, climbing = np.arange(len(packs)), outlook
    while len(rows):
        counts = zip(best[rows].tolist(), climbing.lines, strict=True)
        tried = np.array([next_allowed(n, line.offer) for n, line in counts])
        found = cost(climbing, packs[rows] * tried)
        cheaper = np.flatnonzero(found < lowest[rows] * (1 - SAME_COST))
        if len(cheaper) < len(rows):
            climbing, rows = climbing.part(cheaper), rows[cheaper]
        best[rows], lowest[rows] = tried[cheaper], found[cheaper]
    return [int(n) for n in best]
