from __future__ import annotations

import numpy as np

from inventory.engine.demand.trees import (
    BINS,
    Sample,
    bin_edges,
    binned,
    grow,
    sum_of,
    tree_values,
)


def sample(rows: int = 4000, seed: int = 1) -> tuple[Sample, np.ndarray]:
    """Counts whose mean is half as large again where the first feature is above 0."""
    rng = np.random.default_rng(seed)
    features = rng.normal(size=(rows, 3))
    ratio = np.where(features[:, 0] > 0, 1.5, 1.0)
    expected = np.full(rows, 10.0)
    y = rng.poisson(expected * ratio).astype(float)
    bins = binned(features, bin_edges(features))
    return Sample(bins, y, expected, np.full(rows, 0.1)), ratio


def test_trees_find_the_ratio_to_what_was_expected() -> None:
    learnt, ratio = sample()
    trees, _ = grow(learnt, 150, seed=1)
    found = np.exp(sum_of(trees, learnt.bins))
    assert np.abs(found - ratio).mean() < 0.08


def test_loss_on_watched_rows_falls_when_there_is_something_to_learn() -> None:
    watched, _ = sample(seed=2)
    _, losses = grow(sample()[0], 60, seed=1, watch=watched)
    assert losses[-1] < losses[0]


def test_growing_stops_when_there_is_nothing_to_learn() -> None:
    rng = np.random.default_rng(3)
    noise = Sample(
        rng.integers(0, BINS, (3000, 4)).astype(np.uint8),
        rng.poisson(5.0, 3000).astype(float),
        np.full(3000, 5.0),
        np.full(3000, 0.2),
    )
    trees, _ = grow(noise.only(np.arange(3000) < 2000), 250, 1, noise.only(np.arange(3000) >= 2000))
    assert len(trees) < 250


def test_same_seed_same_trees() -> None:
    one, other = (grow(sample()[0], 5, seed=4)[0] for _ in range(2))
    assert all(np.array_equal(a.leaf, b.leaf) for a, b in zip(one, other, strict=True))


def test_few_rows_make_no_split() -> None:
    learnt, _ = sample(rows=50)
    trees, _ = grow(learnt, 3, seed=1)
    assert all((tree.feature == -1).all() for tree in trees)
    assert len(np.unique(tree_values(trees[0], learnt.bins))) == 1


def test_few_values_get_a_bin_each() -> None:
    features = np.array([[0.0], [1.0], [1.0], [5.0]])
    assert binned(features, bin_edges(features)).ravel().tolist() == [0, 1, 1, 2]
