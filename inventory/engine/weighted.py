"""Means, chances and quantiles over weighted sample paths.

Sums run along the last axis, path by path, so an answer does not depend on what else stands in
the array (R16). ``weights`` (P,) sum to 1.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Sums of weights are off by about this much: a level of 0.95 is met by 19 of 20 equal paths.
WEIGHT_TOLERANCE: Final = 1e-12


def mean(values: Floats, weights: Floats) -> Floats:
    """``values`` (..., P) to (...,)."""
    return np.asarray((values * weights).sum(axis=-1))


def chance(happens: Bools, weights: Floats) -> Floats:
    """Weight of the paths on which it happens: ``happens`` (..., P) to (...,), 0 to 1."""
    return np.asarray(np.minimum(np.where(happens, weights, 0.0).sum(axis=-1), 1.0))


def quantile(values: Floats, weights: Floats, level: Floats | float) -> Floats:
    """The smallest value whose cumulative weight is at least ``level`` (0 to 1): the inverse
    of the distribution, without interpolation. ``values`` (..., P), ``level`` (...,) or one
    number, to (...,)."""
    if (weights == weights[0]).all():
        return _even_quantile(values, weights, np.asarray(level))
    order = np.argsort(values, axis=-1, kind="stable")
    reached = np.cumsum(weights[order], axis=-1)
    reached[..., -1] = np.inf
    enough = reached >= np.asarray(level)[..., None] - WEIGHT_TOLERANCE
    first = np.take_along_axis(order, enough.argmax(axis=-1)[..., None], axis=-1)
    return np.asarray(np.take_along_axis(values, first, axis=-1)[..., 0])


def _even_quantile(values: Floats, weights: Floats, level: Floats) -> Floats:
    """The same where all paths weigh alike: their order does not matter, only the place."""
    reached = np.cumsum(weights)
    reached[-1] = np.inf
    place = np.searchsorted(reached, level - WEIGHT_TOLERANCE)
    places = np.broadcast_to(place, values.shape[:-1])[..., None]
    return np.asarray(np.take_along_axis(np.sort(values, axis=-1), places, axis=-1)[..., 0])
