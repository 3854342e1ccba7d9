"""How far demand lies about what is expected, learnt from one's own past errors.

Variance = (a m + b m^2) x scale of the series x factors of lead, weekday and event, each pulled
towards what all series show; a may be below 1, so that counts steadier than Poisson (school
meals, say) stay steady. The shape is negative binomial for small counts and gamma above; last,
the levels themselves are set right by how often past figures stayed below them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from inventory.engine.demand.counts import count_cumulative, count_quantiles
from inventory.engine.demand.normal import normal_chance, normal_quantile
from inventory.engine.demand.series import Floats, Ints

# Settled on four sets of open demand data, on weeks before the scored ones.
HALF_LIFE_WEEKS = 26.0
SERIES_STRENGTH = 30.0  # days
FACTOR_STRENGTH = 100.0  # days
CALIBRATION_TRUST = 0.5  # how far levels follow past coverage
WHOLE_STEPS = 0.6  # weight of whole steps in the coverage of high levels
FURTHEST = 9.0  # squared errors count for at most this many variances: accidents are not spread
FLOOR = 0.02  # units^2
SMALL = 25.0  # means below which a count is negative binomial
FEW = 3.0  # means below which it is that however steady it seems
LUMPY = 2.0  # a gamma of smaller shape m^2 / v is too skewed for the cube-root formula
# Before there is anything to learn from: Poisson and 30 % about the level (own assumption).
PRIOR_CURVE = np.array([1.0, 0.09])
FEWEST_ROWS = 30
MOST_JUDGED = 20_000  # rows used to set the levels right
LEVELS = np.concatenate([[0.005, 0.02], np.linspace(0.05, 0.95, 37), [0.97, 0.98, 0.99, 0.995]])


@dataclass(frozen=True, slots=True)
class Errors:
    """Past forecasts beside what came, one element a day: ``y``, ``mean``; ``row`` (series),
    ``lead``, ``weekday``, ``event`` (0 or 1); ``weeks`` ago."""

    y: Floats
    mean: Floats
    row: Ints
    lead: Ints
    weekday: Ints
    event: Ints
    weeks: Floats


@dataclass(frozen=True, slots=True)
class Spread:
    """``curve`` (2,): a, b; ``scale`` (S,); factors by lead, weekday and event; ``levels``
    asked for and ``to`` use instead."""

    curve: Floats
    scale: Floats
    lead: Floats
    weekday: Floats
    event: Floats
    levels: Floats

    def variance(self, mean: Floats, row: Ints, lead: Ints, weekday: Ints, event: Ints) -> Floats:
        """Variance of days with the given means; arrays broadcast."""
        lead = np.minimum(lead, len(self.lead) - 1)
        base = _curve_values(self.curve, mean) * self.scale[row]
        return np.asarray(base * self.lead[lead] * self.weekday[weekday] * self.event[event])

    def right_levels(self, levels: Floats) -> Floats:
        """Levels (Q,) of the fitted shape whose past coverage was ``levels``."""
        moved = np.interp(levels, self.levels, LEVELS)
        asked = levels + CALIBRATION_TRUST * (moved - levels)
        return np.asarray(np.clip(asked, 1e-4, 1.0 - 1e-4))


def fit_spread(errors: Errors, series: int, leads: int) -> Spread:
    """Spread of ``series`` series for ``leads`` days ahead."""
    if len(errors.y) < FEWEST_ROWS:
        ones = np.ones
        return Spread(PRIOR_CURVE, ones(series), ones(leads), ones(7), ones(2), LEVELS)
    weight = 0.5 ** (errors.weeks / HALF_LIFE_WEEKS)
    curve = _fit_curve(errors, weight)
    off = np.minimum((errors.y - errors.mean) ** 2 / _curve_values(curve, errors.mean), FURTHEST)
    scale = _relative(errors.row, off, weight, series, SERIES_STRENGTH)
    off = off / scale[errors.row]
    fitted = Spread(
        curve,
        scale,
        _relative(errors.lead, off, weight, leads, FACTOR_STRENGTH),
        _relative(errors.weekday, off, weight, 7, FACTOR_STRENGTH),
        _relative(errors.event, off, weight, 2, FACTOR_STRENGTH),
        LEVELS,
    )
    return _set_right(fitted, errors, weight)


def _curve_values(curve: Floats, mean: Floats) -> Floats:
    return np.asarray(curve[0] * mean + curve[1] * mean**2 + FLOOR)


def _fit_curve(errors: Errors, weight: Floats) -> Floats:
    """a, b >= 0 by least squares on squared errors, each row weighed by 1 / mean^2."""
    mean = errors.mean
    most = 36.0 * (mean + 0.1 * mean**2)  # accidents aside
    squares = np.minimum((errors.y - mean) ** 2, most)
    terms = np.stack([mean, mean**2])
    weighed = terms * weight / np.maximum(mean, 0.3) ** 2
    matrix, target = weighed @ terms.T, weighed @ squares
    if abs(np.linalg.det(matrix)) < 1e-12 * matrix[0, 0] * matrix[1, 1]:
        return np.array([target[0] / matrix[0, 0], 0.0])
    curve = np.linalg.solve(matrix, target)
    if (curve >= 0).all():
        return np.asarray(curve)
    alone = np.diag(target / np.diag(matrix))  # one term only: the better of the two
    losses = [c @ matrix @ c - 2.0 * c @ target for c in alone]
    return np.asarray(alone[int(np.argmin(losses))])


def _relative(group: Ints, off: Floats, weight: Floats, count: int, strength: float) -> Floats:
    """Mean of ``off`` by group (count,), pulled towards 1."""
    total = np.bincount(group, weight * off, count)
    return np.asarray((total + strength) / (np.bincount(group, weight, count) + strength))


def _set_right(fitted: Spread, errors: Errors, weight: Floats) -> Spread:
    """The fitted levels' real coverage (spread over the steps of a count)."""
    chosen = slice(None, None, 1 + len(errors.y) // MOST_JUDGED)
    mean = errors.mean[chosen]
    variance = fitted.variance(
        mean, errors.row[chosen], errors.lead[chosen], errors.weekday[chosen], errors.event[chosen]
    )
    below, at_most = demand_chances(mean, variance, errors.y[chosen])
    width = np.maximum(at_most - below, 1e-9)
    share = [_covered(level, below, width) @ weight[chosen] for level in LEVELS]
    coverage = np.maximum.accumulate(np.array(share) / weight[chosen].sum())
    return Spread(fitted.curve, fitted.scale, fitted.lead, fitted.weekday, fitted.event, coverage)


def _covered(level: float, below: Floats, width: Floats) -> Floats:
    """How far each past day (n,) lay below the quantile of ``level``: the part of its step,
    and for high levels somewhat more, since a whole count covers all of its step."""
    whole = WHOLE_STEPS * min(max((level - 0.5) / 0.4, 0.0), 1.0)
    part = np.clip((level - below) / width, 0.0, 1.0)
    return np.asarray((1.0 - whole) * part + whole * (below < level))


def _counted(mean: Floats, variance: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Days (n,) whose demand is taken as negative binomial."""
    lumpy = mean**2 < LUMPY * variance
    wide = (variance >= 0.999 * mean) & ((mean < SMALL) | lumpy)
    return np.asarray((mean > 0) & (wide | (mean < FEW)))


def demand_quantiles(mean: Floats, variance: Floats, levels: Floats) -> Floats:
    """Quantiles (n, Q) of days with ``mean`` and ``variance`` (n,) at ``levels`` (Q,)."""
    shape = np.maximum(mean, 1e-9) ** 2 / np.maximum(variance, 1e-12)
    ninth = 1.0 / (9.0 * shape[:, None])
    cube = np.maximum(1.0 - ninth + normal_quantile(levels)[None, :] * np.sqrt(ninth), 0.0)
    answer = mean[:, None] * cube**3
    counted = _counted(mean, variance)
    chance = np.broadcast_to(levels, (int(counted.sum()), len(levels)))
    answer[counted] = count_quantiles(mean[counted], variance[counted], chance)
    return np.asarray(answer)


def demand_chances(mean: Floats, variance: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Chances (n,) that demand is below ``y``, and at most ``y``."""
    shape = np.maximum(mean, 1e-9) ** 2 / np.maximum(variance, 1e-12)
    ninth = 1.0 / (9.0 * shape)
    z = (np.cbrt(y / np.maximum(mean, 1e-9)) - 1.0 + ninth) / np.sqrt(ninth)
    below = np.where(y > 0, normal_chance(z), 0.0)
    at_most = np.where(y > 0, below, normal_chance(z))
    counted = _counted(mean, variance) & (y <= math.ceil(4 * SMALL))
    if counted.any():
        below[counted], at_most[counted] = count_cumulative(
            mean[counted], variance[counted], y[counted]
        )
    return below, at_most
