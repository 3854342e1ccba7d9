"""Small boosted trees for a count's ratio to what is expected.

Gradient boosting (Friedman 2001) of a Poisson mean m0 exp(f) with second-order leaves
(Chen and Guestrin 2016, eq. 5 to 7) on binned features, level by level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bins = npt.NDArray[np.uint8]

BINS = 32
DEPTH = 4
RATE = 0.05
# Both in rows of average weight (settled on four sets of open data, earlier weeks first).
LEAF_PULL = 50.0
SMALLEST_LEAF = 80.0
FEATURES_TRIED = 0.7
PATIENCE = 40  # rounds without a gain on the watched rows


@dataclass(frozen=True, slots=True)
class Tree:
    """``feature`` and ``above`` (2^DEPTH - 1,) by node, -1 where a node does not split;
    ``leaf`` (2^DEPTH,) addends to f."""

    feature: Ints
    above: Ints
    leaf: Floats


@dataclass(frozen=True, slots=True)
class Sample:
    """Rows to learn from or to judge by: ``bins`` (n, F); ``y``, ``expected`` and ``weight``
    (n,)."""

    bins: Bins
    y: Floats
    expected: Floats
    weight: Floats

    def only(self, rows: npt.NDArray[np.bool_]) -> Sample:
        return Sample(self.bins[rows], self.y[rows], self.expected[rows], self.weight[rows])


def bin_edges(features: Floats) -> list[Floats]:
    """Borders of at most BINS bins of each feature: between its values, else quantiles."""
    return [_edges(column) for column in features.T]


def _edges(values: Floats) -> Floats:
    distinct = np.unique(values)
    if len(distinct) <= BINS:
        return np.asarray((distinct[1:] + distinct[:-1]) / 2.0)
    inner = np.linspace(0.0, 1.0, BINS + 1)[1:-1]
    return np.unique(np.quantile(values, inner))


def binned(features: Floats, edges: list[Floats]) -> Bins:
    columns = [
        np.searchsorted(edge, column) for edge, column in zip(edges, features.T, strict=True)
    ]
    return np.stack(columns, axis=1).astype(np.uint8)


def poisson_losses(y: Floats, mean: Floats, weight: Floats) -> Floats:
    """Poisson deviance of each row up to what does not depend on the mean."""
    return np.asarray(weight * (mean - y * np.log(mean)))


def grow(
    sample: Sample, rounds: int, seed: int, watch: Sample | None = None
) -> tuple[list[Tree], list[float]]:
    """At most ``rounds`` trees, and the loss on ``watch`` before each and after the last."""
    source = np.random.default_rng(seed)
    score = np.zeros(len(sample.y))
    watched = np.zeros(len(watch.y)) if watch else score
    trees: list[Tree] = []
    losses = [_loss(watch, watched)]
    for _ in range(rounds):
        mean = sample.expected * np.exp(score)
        slope, bend = sample.weight * (sample.y - mean), sample.weight * mean
        tried = np.flatnonzero(source.random(sample.bins.shape[1]) < FEATURES_TRIED)
        if not len(tried):
            continue
        tree, place = _grow_one(sample.bins, slope, bend, tried)
        trees.append(tree)
        score += tree.leaf[place]
        if watch:
            watched += tree_values(tree, watch.bins)
            losses.append(_loss(watch, watched))
            if len(losses) - 1 - int(np.argmin(losses)) >= PATIENCE:
                break
    return trees, losses


def _loss(watch: Sample | None, score: Floats) -> float:
    if watch is None:
        return 0.0
    mean = watch.expected * np.exp(score)
    return float(poisson_losses(watch.y, mean, watch.weight).sum())


def _grow_one(bins: Bins, slope: Floats, bend: Floats, tried: Ints) -> tuple[Tree, Ints]:
    place = np.zeros(len(bins), dtype=np.int64)
    inner = 2**DEPTH - 1
    feature = np.full(inner, -1, dtype=np.int64)
    above = np.zeros(inner, dtype=np.int64)
    used = bins[:, tried]
    row = np.arange(len(bins))
    for level in range(DEPTH):
        nodes = 2**level
        split, border = _best_splits(used, place, slope, bend, nodes)
        feature[nodes - 1 : 2 * nodes - 1] = np.where(split >= 0, tried[split], -1)
        above[nodes - 1 : 2 * nodes - 1] = border
        mine = split[place]
        right = (mine >= 0) & (used[row, np.maximum(mine, 0)] > border[place])
        place = 2 * place + right
    total = np.bincount(place, slope, 2**DEPTH)
    weight = np.bincount(place, bend, 2**DEPTH)
    leaf = RATE * np.clip(total / (weight + LEAF_PULL), -1.0, 1.0)
    return Tree(feature, above, leaf), place


def _best_splits(
    bins: Bins, place: Ints, slope: Floats, bend: Floats, nodes: int
) -> tuple[Ints, Ints]:
    """Feature (-1: none pays) and border of each node, by the gain of the second-order loss."""
    width = bins.shape[1]
    cell = (place[:, None] * width + np.arange(width)) * BINS + bins
    size = nodes * width * BINS
    left = _running(cell, slope, size, nodes)
    heft = _running(cell, bend, size, nodes)
    rest, other = left[:, :, -1:] - left, heft[:, :, -1:] - heft
    gain = (
        left**2 / (heft + LEAF_PULL)
        + rest**2 / (other + LEAF_PULL)
        - left[:, :, -1:] ** 2 / (heft[:, :, -1:] + LEAF_PULL)
    )
    gain[(heft < SMALLEST_LEAF) | (other < SMALLEST_LEAF)] = -1.0
    flat = gain.reshape(nodes, -1)
    best = flat.argmax(axis=1)
    pays = flat[np.arange(nodes), best] > 1e-9
    return np.where(pays, best // BINS, -1), best % BINS


def _running(cell: Ints, values: Floats, size: int, nodes: int) -> Floats:
    """Sums by node and feature, running over the bins."""
    sums = np.bincount(cell.ravel(), np.repeat(values, cell.shape[1]), size)
    return np.asarray(sums.reshape(nodes, -1, BINS).cumsum(axis=2))


def tree_values(tree: Tree, bins: Bins) -> Floats:
    place = np.zeros(len(bins), dtype=np.int64)
    row = np.arange(len(bins))
    for level in range(DEPTH):
        node = place + 2**level - 1
        feature = tree.feature[node]
        right = (feature >= 0) & (bins[row, np.maximum(feature, 0)] > tree.above[node])
        place = 2 * place + right
    return tree.leaf[place]


def sum_of(trees: list[Tree], bins: Bins) -> Floats:
    total = np.zeros(len(bins))
    for tree in trees:
        total += tree_values(tree, bins)
    return total
