"""Direct usage, and sales where there are no stops: level x weekday, shared between items."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inventory.engine.demand.normal import mean_above
from inventory.engine.demand.panel import Panel
from inventory.engine.demand.shrink import pulled

Floats = npt.NDArray[np.float64]

# Own assumptions, to be settled by backtest.
LEVEL_HALF_LIFE = 28.0  # days
WEEKDAY_HALF_LIFE = 112.0
WEEKDAY_STRENGTH = 4.0  # days of that weekday that the outlet's own pattern counts for
SPREAD_STRENGTH = 20.0  # days that the other items' spread counts for
_SOLD_OUT_ROUNDS = 3


@dataclass(frozen=True, slots=True)
class WeekdayUsage:
    """``mean`` (S, 7) per weekday, Monday first; ``extra`` (S,) is 1 / r: the variance of a
    day is mean + extra x mean^2."""

    mean: Floats
    extra: Floats

    def variance(self, mean: Floats) -> Floats:
        """Variance at means (S, ...)."""
        shape = (-1,) + (1,) * (mean.ndim - 1)
        return np.asarray(mean + self.extra.reshape(shape) * mean**2)


def weekday_usage(panel: Panel) -> WeekdayUsage:
    """Mean by weekday and spread of every series, sold-out days taken as lower bounds."""
    qty = panel.qty
    answer = _fit(panel, qty)
    for _ in range(_SOLD_OUT_ROUNDS if panel.sold_out.any() else 0):
        qty = _lifted(panel, answer)
        answer = _fit(panel, qty)
    return answer


def _lifted(panel: Panel, fit: WeekdayUsage) -> Floats:
    """Sold-out days at the mean demand beyond what was sold, given the fit so far."""
    where = panel.sold_out & np.isfinite(panel.qty)
    mean = fit.mean[:, panel.weekdays]
    sd = np.sqrt(fit.variance(mean))
    qty = panel.qty.copy()
    qty[where] = mean_above(mean[where], sd[where], panel.qty[where])
    return qty


def _fit(panel: Panel, qty: Floats) -> WeekdayUsage:
    shape = _weekday_shape(panel, qty)
    level = _level(qty, shape[:, panel.weekdays])
    mean = level[:, None] * shape
    return WeekdayUsage(mean, _extra(panel, qty, mean[:, panel.weekdays]))


def _ages(qty: Floats) -> Floats:
    return np.arange(qty.shape[1] - 1, -1, -1, dtype=np.float64)


def _weights(qty: Floats, half_life: float) -> Floats:
    """Weight (S, D) of each day, 0 where it does not count."""
    return np.where(np.isfinite(qty), 0.5 ** (_ages(qty) / half_life), 0.0)


def _weekday_sums(values: Floats, weekdays: npt.NDArray[np.int64]) -> Floats:
    """Sums (S, 7) by weekday of values (S, D)."""
    return np.asarray(values @ np.eye(7)[weekdays])


def _weekday_shape(panel: Panel, qty: Floats) -> Floats:
    """Factor (S, 7) of each weekday, mean 1 over the days counted, pulled to the outlet's."""
    weight = _weights(qty, WEEKDAY_HALF_LIFE)
    filled = np.where(weight > 0, qty, 0.0)
    scale = (weight * filled).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-12)
    ratio = filled / np.where(scale > 0, scale, 1.0)[:, None]
    days = _weekday_sums(weight, panel.weekdays)
    total = _weekday_sums(weight * ratio, panel.weekdays)
    shape = np.ones(days.shape)
    for rows in panel.outlet_rows.values():
        outlet = pulled(total[rows].sum(axis=0), days[rows].sum(axis=0), 1.0, 1.0)
        shape[rows] = pulled(total[rows], days[rows], outlet, WEEKDAY_STRENGTH)
    return shape


def _level(qty: Floats, shape: Floats) -> Floats:
    """Level (S,): recent total over the recent days, each counted by its weekday's factor."""
    weight = _weights(qty, LEVEL_HALF_LIFE)
    total = (weight * np.where(weight > 0, qty, 0.0)).sum(axis=1)
    expected = (weight * shape).sum(axis=1)
    return np.asarray(total / np.where(expected > 0, expected, 1.0))


def _extra(panel: Panel, qty: Floats, mean: Floats) -> Floats:
    """1 / r (S,) by moments about the fitted means, pulled to the outlet's, never below 0."""
    weight = _weights(qty, WEEKDAY_HALF_LIFE)
    error = np.where(weight > 0, qty - mean, 0.0)
    scale = np.maximum((weight * mean).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-12), 1e-12)
    above = (weight * (error**2 - mean)).sum(axis=1) / scale**2
    below = (weight * mean**2).sum(axis=1) / scale**2
    extra = np.zeros(len(qty))
    for rows in panel.outlet_rows.values():
        outlet = max(0.0, float(above[rows].sum() / max(below[rows].sum(), 1e-12)))
        extra[rows] = pulled(above[rows], below[rows], outlet, SPREAD_STRENGTH)
    return np.maximum(extra, 0.0)
