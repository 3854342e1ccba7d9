"""Distributions as the exact support of sample paths: values and their weights (R14)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from scipy import stats

from inventory.engine.projection import Floats

TAIL = 1e-13


def poisson(mean: float) -> tuple[Floats, Floats]:
    return _counts(stats.poisson(mean))


def negative_binomial(mean: float, variance: float) -> tuple[Floats, Floats]:
    return _counts(stats.nbinom(mean**2 / (variance - mean), mean / variance))


def geometric(chance: float) -> tuple[Floats, Floats]:
    """On 1, 2, ..."""
    return _counts(stats.geom(chance))


def _counts(frozen: stats.rv_frozen) -> tuple[Floats, Floats]:
    values = np.arange(int(frozen.isf(TAIL)) + 2, dtype=float)
    return values, scaled(frozen.pmf(values))


def normal(mean: float, deviation: float, steps: int = 8001) -> tuple[Floats, Floats]:
    """Cells of equal width over 16 deviations, each at its middle, not below zero."""
    return _grid(stats.norm(mean, deviation), mean - 8 * deviation, mean + 8 * deviation, steps)


def lognormal(location: float, scale: float, steps: int = 8001) -> tuple[Floats, Floats]:
    frozen = stats.lognorm(s=scale, scale=float(np.exp(location)))
    return _grid(frozen, 0.0, frozen.isf(TAIL), steps)


def _grid(frozen: stats.rv_frozen, low: float, high: float, steps: int) -> tuple[Floats, Floats]:
    edges = np.linspace(max(low, 0.0), high, steps + 1)
    return (edges[:-1] + edges[1:]) / 2, scaled(np.diff(frozen.cdf(edges)))


def listed(values: Sequence[float], weights: Sequence[float]) -> tuple[Floats, Floats]:
    return np.array(values, dtype=float), np.array(weights, dtype=float)


def days(values: Floats, weights: Floats, count: int) -> tuple[Floats, Floats]:
    """``count`` independent days of one distribution: values (count, P), weights (P,)."""
    paths = np.array(list(product(range(len(values)), repeat=count))).T
    return values[paths], weights[paths].prod(axis=0)


def scaled(weights: Floats) -> Floats:
    return np.asarray(weights / weights.sum())
