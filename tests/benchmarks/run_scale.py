"""``python -m pytest -m benchmark tests/benchmarks/run_scale.py -s``: time and memory of a
reorder run over 500, 1,000 and 2,000 items, as ratios to the smallest."""

from __future__ import annotations

import time
import tracemalloc
from datetime import UTC, datetime

import pytest

from purchasing.services.reorder import draw_up_orders
from tests.purchasing.exchange.books import clear
from tests.purchasing.selectors.many_items import load_items

AS_OF = datetime(2026, 3, 2, 9, tzinfo=UTC)
SIZES = (500, 1000, 2000)


def seconds_and_bytes() -> tuple[float, float]:
    start = time.process_time()
    draw_up_orders(as_of=AS_OF, dry_run=True)
    seconds = time.process_time() - start
    tracemalloc.start()
    draw_up_orders(as_of=AS_OF, dry_run=True)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return seconds, float(peak)


@pytest.mark.benchmark
@pytest.mark.django_db
def test_time_and_memory_grow_linearly_in_items() -> None:
    found = []
    for size in SIZES:
        load_items(size)
        found.append(seconds_and_bytes())
        clear()
    for size, (seconds, peak) in zip(SIZES, found, strict=True):
        ratios = f"time x{seconds / found[0][0]:.2f}, memory x{peak / found[0][1]:.2f}"
        print(f"{size:>5} items: {seconds:.2f} s, {peak / 1e6:.0f} MB; {ratios}")
    growth = SIZES[-1] / SIZES[0]
    assert found[-1][0] < 1.5 * growth * found[0][0]
    assert found[-1][1] < 1.5 * growth * found[0][1]
