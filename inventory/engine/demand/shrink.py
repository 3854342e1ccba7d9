"""Borrowing strength: estimates pulled towards a prior by as much as they are unsure."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def gamma_posterior_mean(shape: float, rate: float, days: Floats, total: Floats) -> Floats:
    """Daily mean after ``days`` with ``total`` sold: (shape + total) / (rate + days).

    Gamma prior on a Poisson mean, conjugate (EB-01). Broadcasts."""
    return np.asarray((shape + total) / (rate + days))


def gamma_predictive_variance(shape: float, rate: float, days: Floats, total: Floats) -> Floats:
    """Variance of the next day's count: m (1 + 1 / (rate + days)), m the posterior mean."""
    mean = gamma_posterior_mean(shape, rate, days, total)
    return np.asarray(mean * (1.0 + 1.0 / (rate + days)))


def towards_grand_mean(values: Floats, variance: float) -> Floats:
    """James-Stein estimate towards the mean of all k values, k > 3 (Efron and Morris 1975).

    z = ybar + c (y - ybar), c = 1 - (k - 3) variance / sum (y - ybar)^2, never below 0
    (positive part)."""
    centre = values.mean()
    scatter = float(((values - centre) ** 2).sum())
    if scatter <= 0.0:
        return values
    keep = max(0.0, 1.0 - (len(values) - 3) * variance / scatter)
    return np.asarray(centre + keep * (values - centre))


def pulled(
    total: Floats, weight: Floats, prior: Floats | float, strength: Floats | float
) -> Floats:
    """(total + strength x prior) / (weight + strength): a weighted mean whose prior counts
    as ``strength`` observations. Lies between own mean and prior. Broadcasts."""
    return np.asarray((total + strength * prior) / (weight + strength))


def dirichlet_shares(prior: Floats, sold: Floats) -> Floats:
    """Expected shares of dishes (K,) after ``sold`` portions of each (MX-01)."""
    after = prior + sold
    return np.asarray(after / after.sum())


def dirichlet_multinomial_covariance(weights: Floats, portions: float) -> Floats:
    """Covariance (K, K) of portions per dish among ``portions`` with Dirichlet ``weights``.

    n (diag(p) - p p') (n + A) / (1 + A), A the sum of the weights (MX-01)."""
    total = weights.sum()
    share = weights / total
    plain = portions * (np.diag(share) - np.outer(share, share))
    return np.asarray(plain * (portions + total) / (1.0 + total))
