"""What sampling leaves to chance (inventory-theory.md, MC-01 to MC-03, our own), on the cost of a
quantity as a run works it out; seed 20261128."""

from __future__ import annotations

import numpy as np
import pytest

from inventory.engine.projection import Floats
from inventory.engine.weighted import quantile
from tests.published import supports
from tests.published.test_theory_newsvendor import cost_at

SEED = 20261128
H, P, BEST = 0.18, 0.70, 56  # NV-05: Poisson 50
EXACT = 1.7972352


def sampled(rng: np.random.Generator, paths: int) -> tuple[Floats, Floats]:
    return rng.poisson(50, paths).astype(float), np.full(paths, 1 / paths)


@pytest.mark.parametrize(("paths", "error"), [(1000, 0.0474), (4000, 0.0237), (16000, 0.0119)])
def test_mc_01_the_error_of_a_cost_falls_with_the_root_of_the_paths(
    paths: int, error: float
) -> None:
    """sd of one path 1.4999630; the spread seen within 15 %, each within four errors."""
    rng = np.random.default_rng(SEED)
    found = [cost_at(sampled(rng, paths), H, P, BEST) for _ in range(200)]
    assert error == pytest.approx(1.4999630 / paths**0.5, abs=6e-5)
    assert np.std(found, ddof=1) == pytest.approx(error, rel=0.15)
    assert max(abs(one - EXACT) for one in found) <= 4 * error


@pytest.mark.parametrize(("paths", "error"), [(1000, 0.5346), (10000, 0.1691)])
def test_mc_02_the_error_of_a_quantile(paths: int, error: float) -> None:
    """0.95 of normal 50/8, 63.1588290."""
    rng = np.random.default_rng(SEED)
    drawn = rng.normal(50, 8, (200, paths))
    found = quantile(drawn, np.full(paths, 1 / paths), 0.95)
    assert np.std(found, ddof=1) == pytest.approx(error, rel=0.15)
    assert np.abs(found - 63.1588290).max() <= 4 * error


def test_mc_03_quantities_are_compared_on_the_same_paths() -> None:
    """2,000 paths: one case more costs 0.0234631; on separate paths the noise is larger."""
    support = supports.poisson(50)
    exact = cost_at(support, H, P, BEST + 1) - cost_at(support, H, P, BEST)
    assert exact == pytest.approx(0.0234631, abs=1e-7)
    rng = np.random.default_rng(SEED)
    drawn = [sampled(rng, 2000) for _ in range(201)]
    common = [cost_at(one, H, P, BEST + 1) - cost_at(one, H, P, BEST) for one in drawn[1:]]
    apart = [
        cost_at(one, H, P, BEST + 1) - cost_at(other, H, P, BEST)
        for one, other in zip(drawn, drawn[1:], strict=False)
    ]
    assert np.std(common, ddof=1) == pytest.approx(0.0078, rel=0.15)
    assert np.std(apart, ddof=1) == pytest.approx(0.043, rel=0.15)
