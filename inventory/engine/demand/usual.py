"""What a weekday usually brings: its own last half year, whatever the level did meanwhile.

A plain second opinion (negative binomial by moments) whose quantiles are averaged with the
forecaster's as far as that would have paid: it steadies what a level follows too eagerly, and is
wrong where demand moves with the season. Averaging quantiles of unlike models: Vincent 1912.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inventory.engine.demand.scores import pinball
from inventory.engine.demand.series import Flags, Floats, Ints
from inventory.engine.demand.spread import HALF_LIFE_WEEKS, Errors, Spread, demand_quantiles

TIMES, FEWEST_TIMES = 26, 8  # that weekday came, and the fewest that say something
FURTHEST_BACK = 60  # weeks
# Parts tried. More than this and the average knows little of what is new.
PARTS = np.array([0.0, 0.1, 0.2, 0.3])
SURE = 1.0  # standard errors over weeks by which a part must have paid
FEWEST_WEEKS = 8
MOST_JUDGED = 20_000
JUDGED_LEVELS = np.array([0.5, 0.7, 0.8, 0.9, 0.95])


@dataclass(frozen=True, slots=True)
class Usual:
    """Mean and variance (7, S) of each weekday, Monday first; NaN where it came too seldom."""

    mean: Floats
    variance: Floats


def usual(qty: Floats, first_ordinal: int, at: int, selling: Floats) -> Usual:
    """From the figures ``qty`` (S, D) before column ``at``, less by the chance (S,) that a
    series is off sale."""
    found = [_moments(qty[:, _first(first_ordinal, day) : at : 7]) for day in range(7)]
    means, variances = (np.stack(parts) for parts in zip(*found, strict=True))
    return Usual(means * selling, variances * selling)


def _first(first_ordinal: int, weekday: int) -> int:
    """First column of that weekday."""
    return (weekday - (first_ordinal - 1)) % 7


def _moments(weeks: Floats) -> tuple[Floats, Floats]:
    """Mean and variance (S,) of the last ``TIMES`` figures of each row."""
    recent = weeks[:, -FURTHEST_BACK:][:, ::-1]
    known = np.isfinite(recent)
    known &= known.cumsum(axis=1) <= TIMES
    times = known.sum(axis=1)
    mean = np.where(known, recent, 0.0).sum(axis=1) / np.maximum(times, 1)
    squares = np.where(known, (recent - mean[:, None]) ** 2, 0.0).sum(axis=1)
    enough = times >= FEWEST_TIMES
    variance = squares / np.maximum(times - 1, 1)
    return np.where(enough, mean, np.nan), np.where(enough, variance, np.nan)


def averaged(own: Floats, mean: Floats, variance: Floats, part: Floats, levels: Floats) -> Floats:
    """Quantiles ``own`` (n, Q) averaged with those of days of the given moments, which take
    ``part`` (n,) of it."""
    taken = part > 0
    if not taken.any():
        return own
    answer = own.copy()
    beside = demand_quantiles(mean[taken], variance[taken], levels)
    answer[taken] += part[taken, None] * (beside - own[taken])
    return answer


def paying_part(
    errors: Errors, spread: Spread, qty: Floats, first_ordinal: int, selling: dict[int, Floats]
) -> float:
    """The part of ``PARTS`` that would have cost least on past days without an event; 0 if
    the gain is not sure. ``selling``: chances (S,) by the column of each past snapshot."""
    chosen = slice(None, None, 1 + len(errors.y) // MOST_JUDGED)
    row, lead, weekday = errors.row[chosen], errors.lead[chosen], errors.weekday[chosen]
    weeks, event = errors.weeks[chosen], errors.event[chosen]
    at = qty.shape[1] - 7 * weeks.astype(np.int64)
    mean, variance = _as_known(qty, first_ordinal, selling, at, weekday, row)
    counts = np.isfinite(mean) & (event == 0)
    if len(np.unique(weeks[counts])) < FEWEST_WEEKS:
        return 0.0
    expected = errors.mean[chosen][counts]
    width = spread.variance(expected, *(part[counts] for part in (row, lead, weekday, event)))
    own = demand_quantiles(expected, width, spread.right_levels(JUDGED_LEVELS))
    beside = demand_quantiles(mean[counts], variance[counts], JUDGED_LEVELS)
    return _best(errors.y[chosen][counts], own, beside, weeks[counts])


def _as_known(
    qty: Floats, first_ordinal: int, selling: dict[int, Floats], at: Ints, weekday: Ints, row: Ints
) -> tuple[Floats, Floats]:
    """Mean and variance (n,) of each past day by what was known at its snapshot."""
    mean, variance = np.full(len(at), np.nan), np.full(len(at), np.nan)
    for column in np.unique(at):
        found = usual(qty, first_ordinal, int(column), selling[int(column)])
        here = at == column
        mean[here] = found.mean[weekday[here], row[here]]
        variance[here] = found.variance[weekday[here], row[here]]
    return mean, variance


def _best(y: Floats, own: Floats, beside: Floats, weeks: Floats) -> float:
    present, group = np.unique(weeks, return_inverse=True)
    worth = 0.5 ** (present / HALF_LIFE_WEEKS)
    losses = [
        pinball(y[:, None], own + part * (beside - own), JUDGED_LEVELS).sum(axis=1)
        for part in PARTS
    ]
    by_week = np.array([worth * np.bincount(group, loss) for loss in losses])
    best = int(by_week.sum(axis=1).argmin())
    gain = by_week[0] - by_week[best]
    sure = gain.std(ddof=1) * np.sqrt(len(gain)) * SURE
    return float(PARTS[best]) if gain.sum() > sure else 0.0


def taken(part: float, found: Usual, weekday: Ints, apply: Flags) -> tuple[Floats, Floats, Floats]:
    """Mean, variance and part (S, H) of the days ahead: 0 where it does not ``apply`` (S, H)
    or has nothing to say."""
    mean, variance = found.mean[weekday].T, found.variance[weekday].T
    known = apply & np.isfinite(mean)
    return (
        np.where(known, mean, 0.0),
        np.where(known, variance, 0.0),
        np.where(known, part, 0.0),
    )
