"""A trace for a terminal, in the sentences of the page."""

from __future__ import annotations

from collections.abc import Iterator

from purchasing.printed import PERSON_IN_CHARGE
from purchasing.selectors.trace_told import Leg, Told


def trace_text(told: Told) -> str:
    return "\n".join(_lines(told))


def _lines(told: Told) -> Iterator[str]:
    code = f", lot code {told.supplier_lot}" if told.supplier_lot else ""
    yield f"{told.item} {told.strip}{code}"
    if told.parts:
        yield f"Also under the strips {', '.join(told.parts)}."
    yield from told.holds
    yield from told.came_from
    yield ""
    width = max((len(row.figure) for row in told.account), default=0)
    for row in told.account:
        yield f"  {row.figure:>{width}} {told.unit}  {row.words}"
        for detail in row.details:
            yield f"  {'':>{width}} {'':>{len(told.unit)}}    {detail}"
    yield "It adds up." if told.adds_up else f"It does not add up: {told.total} {told.unit} found."
    yield from _legs("What went into it", told.behind)
    yield from _legs("What was made of it", told.ahead)
    yield ""
    yield PERSON_IN_CHARGE


def _legs(heading: str, legs: tuple[Leg, ...]) -> Iterator[str]:
    if not legs:
        return
    yield from ("", heading)
    for leg in legs:
        inset = "  " * leg.depth
        yield f"{inset}{leg.strip} {leg.item}: {leg.sentence}"
        for detail in leg.details:
            yield f"{inset}  {detail}"
