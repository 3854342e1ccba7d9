"""How the time and the memory of deciding order lines grow with their number.

    python -m tests.benchmarks.lines

1,000 paths, a month of usage, lots of several lives. Times are those of the processor; the peak
is that of the process so far, so it shows growth only.
"""

from __future__ import annotations

import resource
from time import process_time

import numpy as np

from purchasing.engine.lines import Line
from purchasing.engine.quantities import decide_lines
from tests.purchasing.engine.line_scenes import daily, line, march, offer

PATHS, FIRST, LAST = 1000, 2, 33
LIVES = (None, 5, 20, 400)


def lines(count: int) -> list[Line]:
    """They share their draws, so that the peak is that of the decision."""
    rng = np.random.default_rng(1)
    drawn = daily({on: rng.poisson(50, PATHS) for on in range(FIRST, LAST)}, PATHS)
    return [
        line(
            drawn,
            stock=[(60, 4), (100, 7)],
            coming=[(3, 50, 8)],
            life=LIVES[n % len(LIVES)],
            known_until=march(LAST - 1),
            sold=offer(40, item=f"ITEM{n}"),
        )
        for n in range(count)
    ]


def main() -> None:
    weights = np.full(PATHS, 1 / PATHS)
    for count in (250, 500, 1000, 2000):
        asked = lines(count)
        started = process_time()
        decide_lines(asked, weights)
        seconds = process_time() - started
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(
            f"{count:5} lines {seconds:6.2f} s  {1000 * seconds / count:5.2f} ms a line"
            f"  peak {peak} MiB"
        )


if __name__ == "__main__":
    main()
