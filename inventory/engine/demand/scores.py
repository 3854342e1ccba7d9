"""Measures of a forecast's accuracy (reference tables AC-01 to AC-13).

None where a measure does not exist (nothing sold, a constant past): never an error, never
infinity (AC-12)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def wape(actual: Floats, forecast: Floats) -> float | None:
    """Sum of absolute errors : sum of actuals; a ratio of sums, never a mean of percentages
    (AC-01, AC-11)."""
    total = float(actual.sum())
    return float(np.abs(actual - forecast).sum()) / total if total > 0 else None


def bias(actual: Floats, forecast: Floats) -> float | None:
    """(Sum of forecasts - sum of actuals) : sum of actuals; above 0 when too high."""
    total = float(actual.sum())
    return float((forecast - actual).sum()) / total if total > 0 else None


def mase(train: Floats, actual: Floats, forecast: Floats) -> float | None:
    """Mean absolute error : mean absolute first difference of ``train`` (Hyndman and Koehler
    2006)."""
    scale = float(np.abs(np.diff(train)).mean()) if len(train) > 1 else 0.0
    return float(np.abs(actual - forecast).mean()) / scale if scale > 0 else None


def rmsse(train: Floats, actual: Floats, forecast: Floats) -> float | None:
    """Root of mean squared error : mean squared first difference of ``train`` from its first
    sale on (M5 competition 2020)."""
    begun = train[np.argmax(train > 0) :] if (train > 0).any() else train[:0]
    scale = float((np.diff(begun) ** 2).mean()) if len(begun) > 1 else 0.0
    return float(np.sqrt(((actual - forecast) ** 2).mean() / scale)) if scale > 0 else None


def pinball(actual: Floats, quantile: Floats, level: float | Floats) -> Floats:
    """Loss of each quantile forecast: level x shortfall, (1 - level) x excess (Koenker and
    Bassett 1978). Broadcasts."""
    short = actual - quantile
    return np.asarray(np.maximum(level * short, (level - 1.0) * short))


def coverage(actual: Floats, quantile: Floats) -> float | None:
    """Share of actuals at or below the quantile: counts need <= (AC-06)."""
    return float((actual <= quantile).mean()) if len(actual) else None


def interval_score(actual: Floats, low: Floats, high: Floats, share: float) -> Floats:
    """Width, plus 2 / (1 - share) for each unit outside (Gneiting and Raftery 2007)."""
    outside = np.maximum(low - actual, 0.0) + np.maximum(actual - high, 0.0)
    return np.asarray(high - low + 2.0 / (1.0 - share) * outside)


def crps_of_sample(sample: Floats, actual: float, *, fair: bool = False) -> float:
    """Mean |x - y| less half the mean |x - x'| of a sample (n,); ``fair`` leaves each member
    out of its own comparison (Ferro 2014)."""
    members = len(sample)
    pairs = np.abs(sample[:, None] - sample[None, :]).sum()
    pairs /= members * (members - 1) if fair else members**2
    return float(np.abs(sample - actual).mean() - pairs / 2.0)


def crps_of_quantiles(levels: Floats, quantiles: Floats, actual: float) -> float:
    """Twice the mean pinball loss over equally spaced ``levels``."""
    return float(2.0 * pinball(np.asarray(actual), quantiles, levels).mean())


def newsvendor_quantile(sample: Floats, level: float) -> float:
    """Smallest value of the sample whose share at or below it reaches ``level``: the inverse
    of the distribution, not an interpolation (AC-13)."""
    return float(np.quantile(sample, level, method="inverted_cdf"))


@dataclass(frozen=True, slots=True)
class Scores:
    """``pinball``: mean over days and quantiles; ``coverage`` of the 0.9 quantile; ``days``
    scored. ``error``: jackknife standard error of the pinball loss over origins."""

    days: int
    pinball: float | None
    wape: float | None
    bias: float | None
    coverage: float | None
    error: float | None


def score(
    actual: Floats, mean: Floats, quantiles: Floats, levels: Floats, origin: npt.NDArray[np.int64]
) -> Scores:
    """Scores of n days: ``quantiles`` (n, Q) at ``levels`` (Q,), ``origin`` (n,) numbers."""
    if not len(actual):
        return Scores(0, None, None, None, None, None)
    losses = pinball(actual[:, None], quantiles, levels).mean(axis=1)
    nine = int(np.argmin(np.abs(levels - 0.9)))
    return Scores(
        days=len(actual),
        pinball=float(losses.mean()),
        wape=wape(actual, mean),
        bias=bias(actual, mean),
        coverage=coverage(actual, quantiles[:, nine]),
        error=_jackknife(losses, origin),
    )


def _jackknife(losses: Floats, origin: npt.NDArray[np.int64]) -> float | None:
    """Standard error of the mean with one origin left out at a time (Tukey 1958)."""
    _, group = np.unique(origin, return_inverse=True)
    total, count = np.bincount(group, losses), np.bincount(group)
    if len(total) < 2:
        return None
    left_out = (losses.sum() - total) / (len(losses) - count)
    groups = len(total)
    spread = ((left_out - left_out.mean()) ** 2).sum()
    return float(np.sqrt((groups - 1) / groups * spread))
