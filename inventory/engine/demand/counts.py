"""Counts more spread than Poisson: moments, sums, thinning and quantiles.

A negative binomial with mean m and variance v > m is a Poisson whose own mean varies as a
gamma: r = m^2 / (v - m), and the chance p = m / v. With v <= m it is taken as Poisson
(reference tables ST-01 to ST-06, Bliss and Fisher 1953 for the fit by moments).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inventory.engine.demand.normal import normal_quantile

Floats = npt.NDArray[np.float64]

# Beyond this many steps of support a table gives way to a coarser step (own assumption).
_LONGEST_TABLE = 1500
# Steps per unit of v / m in a coarse table: quantiles then stand within 2 % of the exact ones.
_STEPS_PER_SPREAD = 8.0
_ROWS_AT_ONCE = 1000
# With a shape this large a gamma is normal enough for the cube-root formula.
_SMOOTH_SHAPE = 60.0


@dataclass(frozen=True, slots=True)
class CountFit:
    """Moments of a sample of counts; ``variance`` with n - 1. ``r`` and ``chance`` are None
    where the variance does not exceed the mean: Poisson."""

    mean: float
    variance: float
    r: float | None
    chance: float | None


def fit_by_moments(counts: Floats) -> CountFit:
    """Fit of one sample (n,) of counts."""
    mean = float(np.mean(counts))
    variance = float(np.var(counts, ddof=1)) if len(counts) > 1 else mean
    if variance <= mean:
        return CountFit(mean, variance, None, None)
    return CountFit(mean, variance, mean**2 / (variance - mean), mean / variance)


def thinned(mean: Floats, variance: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Mean and variance of the guests who take a dish of the given share: w E[N] and
    w (1 - w) E[N] + w^2 Var N (total variance, ST-06). All arrays broadcast."""
    return share * mean, share * (1.0 - share) * mean + share**2 * variance


def thinned_covariance(mean: float, variance: float, one: float, other: float) -> float:
    """Covariance of two dishes of one turnout: w1 w2 (Var N - E N) (ST-06)."""
    return one * other * (variance - mean)


def count_quantiles(mean: Floats, variance: Floats, chance: Floats) -> Floats:
    """Smallest counts whose cumulative chance reaches ``chance``.

    ``mean`` and ``variance`` are (S,), ``chance`` is (S, P) in (0, 1); the answer is (S, P).
    Exact while the support is short; long supports use a coarser step, and tight large
    counts the cube-root formula of Wilson and Hilferty (1931) for the gamma.
    """
    answer = np.zeros(chance.shape)
    spread = np.maximum(variance, mean)
    shape = np.divide(mean**2, spread, out=np.zeros_like(mean), where=spread > 0)
    reach = _table_reach(mean, spread)
    exact = (mean > 0) & (reach <= _LONGEST_TABLE)
    smooth = (mean > 0) & ~exact & (shape > _SMOOTH_SHAPE)
    coarse = (mean > 0) & ~exact & ~smooth
    answer[exact] = _by_table(mean[exact], spread[exact], chance[exact])
    answer[smooth] = np.rint(_by_cube_root(mean[smooth], shape[smooth], chance[smooth]))
    step = np.maximum(spread[coarse] / mean[coarse] / _STEPS_PER_SPREAD, 1.0)
    table = _by_table(mean[coarse] / step, spread[coarse] / step**2, chance[coarse])
    answer[coarse] = np.rint(table * step[:, None])
    return answer


def count_cumulative(mean: Floats, variance: Floats, counts: Floats) -> tuple[Floats, Floats]:
    """Chances (n,) of fewer than ``counts`` (rounded), and of at most so many; means > 0."""
    whole = np.rint(counts).astype(np.int64)
    table = _cumulative(mean, np.maximum(variance, mean), int(whole.max()) + 1)
    row = np.arange(len(mean))
    at_most = table[row, whole]
    return np.where(whole > 0, table[row, np.maximum(whole - 1, 0)], 0.0), at_most


def _table_reach(mean: Floats, variance: Floats) -> Floats:
    """Counts beyond which less than 1e-9 of the weight lies, near enough."""
    tail = np.divide(variance, mean, out=np.ones_like(mean), where=mean > 0)
    return mean + 7.0 * np.sqrt(variance) + 21.0 * tail + 10.0


def _by_table(mean: Floats, variance: Floats, chance: Floats) -> Floats:
    answer = np.zeros(chance.shape)
    order = np.argsort(mean, kind="stable")  # rows of like support share a table
    for start in range(0, len(mean), _ROWS_AT_ONCE):
        rows = order[start : start + _ROWS_AT_ONCE]
        answer[rows] = _by_one_table(mean[rows], variance[rows], chance[rows])
    return answer


def _by_one_table(mean: Floats, variance: Floats, chance: Floats) -> Floats:
    support = int(_table_reach(mean, variance).max())
    cumulative = _cumulative(mean, variance, support)
    row = np.arange(len(mean))[:, None]
    # One sorted line of numbers for all rows: row i occupies [i, i + 1].
    line = (cumulative * (1 - 1e-12) + row).ravel()
    found = np.searchsorted(line, np.minimum(chance, 1 - 1e-11) + row)
    return np.asarray(np.minimum(found - row * (support + 1), support), dtype=np.float64)


def _cumulative(mean: Floats, variance: Floats, support: int) -> Floats:
    """Cumulative chances (S, support + 1) from the ratio of neighbouring chances."""
    counts = np.arange(support)
    extra = np.maximum(variance - mean, 1e-9 * mean)[:, None]
    r = mean[:, None] ** 2 / extra
    miss = extra / variance.clip(min=mean * (1 + 1e-9))[:, None]
    steps = np.log((r + counts) * miss) - np.log(counts + 1.0)
    first = r * np.log1p(-miss)
    logs = np.concatenate([first, first + np.cumsum(steps, axis=1)], axis=1)
    return np.asarray(np.minimum(np.cumsum(np.exp(logs), axis=1), 1.0))


def _by_cube_root(mean: Floats, shape: Floats, chance: Floats) -> Floats:
    ninth = 1.0 / (9.0 * shape[:, None])
    cube = (1.0 - ninth + normal_quantile(chance) * np.sqrt(ninth)) ** 3
    return np.maximum(mean[:, None] * cube, 0.0)
