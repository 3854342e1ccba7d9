"""Rule R6 in plain Python, day by day and lot by lot: the baseline of the benchmark, and what
the arrays must equal."""

from __future__ import annotations

from dataclasses import dataclass

Numbers = list[float]


@dataclass(slots=True)
class PlainLot:
    """Days are counted from 0; a lot is usable on its use-by day."""

    qty: float
    arrives: int
    use_by: int


def project_plainly(
    lots: list[tuple[float, int, int]], usage: list[Numbers]
) -> tuple[list[Numbers], list[Numbers]]:
    """One stock: ``lots`` (qty, arrives, use-by) in order of use, ``usage`` [path][day].
    Answers what was short [path][day] and what is left [path][lot]."""
    ends = [_one_path([PlainLot(*lot) for lot in lots], path) for path in usage]
    return [short for short, _ in ends], [left for _, left in ends]


def _one_path(lots: list[PlainLot], usage: Numbers) -> tuple[Numbers, Numbers]:
    short = []
    for day, want in enumerate(usage):
        for lot in lots:
            if want <= 0:
                break
            if lot.arrives <= day <= lot.use_by:
                taken = min(lot.qty, want)
                lot.qty -= taken
                want -= taken
        short.append(want)
    return short, [lot.qty for lot in lots]
