"""How often each other reading of a rule changes an order line of the random workbooks.

``python -m tests.oracle.bites --seeds 1-40 --family B`` prints the shares. A reading that changes
nothing would mean that the generator cannot tell it from the rule.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from functools import cache

from tests.oracle.brute import Answer, answer
from tests.oracle.readings import Otherwise
from tests.oracle.workbooks import Workbook, generate

Decided = dict[tuple[str, str, str], tuple[object, ...]]

ONLY_NESTED = tuple(Otherwise)[tuple(Otherwise).index(Otherwise.ALL_COUNT) :]
EVERYWHERE = tuple(reading for reading in Otherwise if reading not in ONLY_NESTED)


def readings_of(family: str) -> tuple[Otherwise, ...]:
    return EVERYWHERE if family == "A" else tuple(Otherwise)


def decided(found: Answer) -> Decided:
    """What was ordered of each item at each place, from whom and for when."""
    lines: Decided = {}
    for order in found.orders:
        slot = (order.supplier, order.delivery, order.next_delivery, order.order_by)
        for line in order.lines:
            lines[order.place, line.item, order.supplier] = (*slot, line.sku, line.cases)
    return lines


def changed_lines(family: str, seed: int, reading: Otherwise) -> tuple[int, int]:
    """Lines that differ under ``reading``, and all lines of either answer."""
    book, as_written = _as_written(family, seed)
    otherwise = decided(answer(book.sheets, book.as_of, frozenset({reading})))
    pairs = as_written.keys() | otherwise.keys()
    return sum(as_written.get(p) != otherwise.get(p) for p in pairs), len(pairs)


@cache
def _as_written(family: str, seed: int) -> tuple[Workbook, Decided]:
    book = generate(family, seed, minimums=False)
    return book, decided(answer(book.sheets, book.as_of))


def share_changed(family: str, seeds: Iterable[int], reading: Otherwise) -> float:
    counts = [changed_lines(family, seed, reading) for seed in seeds]
    return sum(changed for changed, _ in counts) / sum(lines for _, lines in counts)


def seed_range(written: str) -> range:
    first, _, last = written.partition("-")
    return range(int(first), int(last or first) + 1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=seed_range, default=range(1, 21))
    parser.add_argument("--family", choices=("A", "B"), default="A")
    asked = parser.parse_args()
    for reading in readings_of(asked.family):
        share = share_changed(asked.family, asked.seeds, reading)
        print(f"{share:7.1%}  {reading}", flush=True)


if __name__ == "__main__":
    main()
