"""How much faster the projection is than plain Python loops, on one machine in one run.

    python -m tests.benchmarks.projection

2,000 items x 1,000 paths x 14 days x up to 8 lots. The plain loops would take half a minute, so
they run on a sample of items of the same make, and their time is scaled by the number of items
(each item is on its own, so it grows in proportion). Results must be equal on the sample, to the
last bit. Times are those of the processor, so that other work on the machine counts little.
"""

from __future__ import annotations

import argparse
import resource
from collections.abc import Iterator
from dataclasses import dataclass
from time import process_time

import numpy as np
import numpy.typing as npt

from inventory.engine.projection import Bools, Floats, Projected, project, stocks_at_once
from tests.benchmarks.plain import project_plainly

ITEMS, PATHS, DAYS, LOTS = 2000, 1000, 14, 8


@dataclass(frozen=True, slots=True)
class Stocks:
    """``qty``, ``arrives``, ``use_by`` (I, K) in order of use; ``usage`` (I, days, P)."""

    qty: Floats
    arrives: npt.NDArray[np.int64]
    use_by: npt.NDArray[np.int64]
    usage: Floats

    def projected(self) -> Projected:
        day = np.arange(DAYS)[:, None]
        serves: Bools = (self.arrives[:, None] <= day) & (day <= self.use_by[:, None])
        return project(self.qty, serves & (self.qty[:, None] > 0), self.usage)

    def plainly(self) -> list[tuple[list[list[float]], list[list[float]]]]:
        lots = np.stack([self.qty, self.arrives, self.use_by], axis=2).tolist()
        by_path = self.usage.transpose(0, 2, 1).tolist()
        return [
            project_plainly([lot for lot in stock if lot[0] > 0], usage)
            for stock, usage in zip(lots, by_path, strict=True)
        ]


def stocks(count: int, paths: int, rng: np.random.Generator) -> Stocks:
    """Items with 1 to 8 lots, some of them on their way, use-by dates within and beyond the
    fortnight, and usage that about meets the supply."""
    lots = rng.integers(1, LOTS + 1, count)
    return Stocks(
        qty=np.where(np.arange(LOTS) < lots[:, None], rng.uniform(5, 80, (count, LOTS)), 0.0),
        arrives=np.where(rng.random((count, LOTS)) < 0.6, 0, rng.integers(0, DAYS, (count, LOTS))),
        use_by=np.sort(rng.integers(1, DAYS + 8, (count, LOTS)), axis=1),
        usage=rng.negative_binomial(4, 0.2, (count, DAYS, paths)).astype(float),
    )


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds of processor time for all items; ``equal``: to the last bit on the sample."""

    arrays: float
    plain: float
    equal: bool

    @property
    def ratio(self) -> float:
        return self.plain / self.arrays


def measure(items: int = ITEMS, paths: int = PATHS, sample: int = 20) -> Measured:
    arrays = 0.0
    for part in chunks(items, paths):
        started = process_time()
        part.projected()
        arrays += process_time() - started
    plain, equal = measure_plain(stocks(sample, paths, np.random.default_rng(1)))
    return Measured(arrays, plain * items / sample, equal)


def chunks(items: int, paths: int) -> Iterator[Stocks]:
    """As a run works: a few stocks at a time, so memory does not grow with the items."""
    rng = np.random.default_rng(20260302)
    size = stocks_at_once(paths)
    for start in range(0, items, size):
        yield stocks(min(size, items - start), paths, rng)


def measure_plain(part: Stocks) -> tuple[float, bool]:
    started = process_time()
    plain = part.plainly()
    seconds = process_time() - started
    found = part.projected()
    pairs = zip(plain, found.short, found.left, strict=True)
    return seconds, all(
        np.array_equal(short, was_short.T) and np.array_equal(left, was_left.T[:, : len(left[0])])
        for (short, left), was_short, was_left in pairs
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="The projection against plain Python loops.")
    parser.add_argument("--items", type=int, default=ITEMS)
    parser.add_argument("--paths", type=int, default=PATHS)
    parser.add_argument("--sample", type=int, default=20, help="items for the plain loops")
    asked = parser.parse_args()
    found = measure(asked.items, asked.paths, asked.sample)
    size = f"{asked.items} items x {asked.paths} paths x {DAYS} days x up to {LOTS} lots"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(f"{size}, processor time, one run")
    print(f"arrays       {found.arrays:8.2f} s")
    print(f"plain loops  {found.plain:8.2f} s (from {asked.sample} items, scaled)")
    print(f"ratio        {found.ratio:8.0f} x; equal on the sample: {found.equal}")
    print(f"peak memory  {peak:8d} MiB, inputs included")


if __name__ == "__main__":
    main()
