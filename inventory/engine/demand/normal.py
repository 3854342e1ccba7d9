"""The normal distribution on arrays, without scipy (half a second of import)."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# P. J. Acklam (2003), rational approximation of the normal quantile: |relative error| < 1.2e-9.
_CENTRE = (
    (-3.969683028665376e01, 2.209460984245205e02, -2.759285104469687e02),
    (1.383577518672690e02, -3.066479806614716e01, 2.506628277459239e00),
)
_CENTRE_BELOW = (
    (-5.447609879822406e01, 1.615858368580409e02, -1.556989798598866e02),
    (6.680131188771972e01, -1.328068155288572e01, 1.0),
)
_TAIL = (
    (-7.784894002430293e-03, -3.223964580411365e-01, -2.400758277161838e00),
    (-2.549732539343734e00, 4.374664141464968e00, 2.938163982698783e00),
)
_TAIL_BELOW = (
    (7.784695709041462e-03, 3.224671290700398e-01),
    (2.445134137142996e00, 3.754408661907416e00, 1.0),
)
_TAIL_FROM = 0.02425
_TAIL_SERIES = (1.330274429, -1.821255978, 1.781477937, -0.356563782, 0.319381530)


def normal_quantile(chance: Floats) -> Floats:
    """z with the given cumulative chance, any shape, chance in (0, 1)."""
    lower = np.minimum(chance, 1.0 - chance)
    tail = lower < _TAIL_FROM
    centre = np.where(tail, 0.5, lower) - 0.5
    square = centre**2
    z = centre * _ratio(_CENTRE, _CENTRE_BELOW, square)
    far = np.sqrt(-2.0 * np.log(np.where(tail, np.maximum(lower, 1e-300), 0.01)))
    z = np.where(tail, _ratio(_TAIL, _TAIL_BELOW, far), z)
    return np.asarray(np.where(chance > 0.5, -z, z))


def _ratio(
    above: tuple[tuple[float, ...], ...], below: tuple[tuple[float, ...], ...], at: Floats
) -> Floats:
    top = np.polyval(np.array([c for part in above for c in part]), at)
    bottom = np.polyval(np.array([c for part in below for c in part]), at)
    return np.asarray(top / bottom)


def normal_chance(z: Floats) -> Floats:
    """Cumulative chance of z, any shape; |error| < 8e-8.

    Abramowitz and Stegun (1964), 26.2.17."""
    t = 1.0 / (1.0 + 0.2316419 * np.abs(z))
    tail = np.polyval(np.array([*_TAIL_SERIES, 0.0]), t) * np.exp(-0.5 * z**2)
    upper = tail / math.sqrt(2.0 * math.pi)
    return np.asarray(np.where(z > 0, 1.0 - upper, upper))


def mean_above(mean: Floats, sd: Floats, bound: Floats) -> Floats:
    """Mean of a normal given that it lies above ``bound``; arrays of one shape (n,).

    m + s phi(a) / (1 - Phi(a)) with a = (bound - m) / s; for sold-out days, whose figure is
    a lower bound of demand (Tobin 1958)."""
    a = np.clip((bound - mean) / np.maximum(sd, 1e-12), -8.0, 8.0)
    beyond = np.array([0.5 * math.erfc(x / math.sqrt(2.0)) for x in a.ravel()]).reshape(a.shape)
    density = np.exp(-0.5 * a**2) / math.sqrt(2.0 * math.pi)
    return np.asarray(np.maximum(mean + sd * density / beyond, bound))
