"""Many numbers that move together, each with exactly the distribution asked for.

Scores say how the paths are ordered; a path's rank picks its stratum of the distribution, so
P paths hold the P equal slices of it (stratified sampling) whatever they share with others.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import numpy.typing as npt

from inventory.engine.streams import stream

Floats = npt.NDArray[np.float64]


def normals(seed: int, kind: str, code: str, day: date, paths: int) -> Floats:
    """Standard normal numbers (P,) of one stream (R16)."""
    return np.asarray(stream(seed, kind, code, day).standard_normal(paths))


def shared(common: Floats, own: Floats, share: float) -> Floats:
    """Standard normal scores of which ``share`` of the variance is the common part."""
    return np.asarray(np.sqrt(share) * common + np.sqrt(1.0 - share) * own)


def ranks(scores: Floats) -> npt.NDArray[np.int64]:
    """Rank 0 ... P - 1 of each path (..., P)."""
    order = np.argsort(scores, axis=-1, kind="stable")
    answer = np.empty(scores.shape, dtype=np.int64)
    places = np.broadcast_to(np.arange(scores.shape[-1]), scores.shape)
    np.put_along_axis(answer, order, places, axis=-1)
    return answer


def strata(scores: Floats) -> Floats:
    """Chances (..., P): the middle of the slice that each path's rank gives it."""
    return np.asarray((ranks(scores) + 0.5) / scores.shape[-1])
