"""The date of a lot: its mark, and how the use-by was worked out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from inventory.engine.date_marks import (
    Mark,
    Stage,
    Verdict,
    first_marked_day,
    freezes,
    judge,
    mark,
)
from inventory.models import Lot


@dataclass(frozen=True, slots=True)
class LotDate:
    """``mark`` and ``verdict`` are None for food that needs no date mark, and while the
    package it was bought in is closed. ``stages``: the lot and those it is a part of, oldest
    first."""

    stages: tuple[Lot, ...]
    mark: Mark | None = None
    verdict: Verdict | None = None


def date_of(lot: Lot, on: date) -> LotDate:
    """One query per lot that this one is a part of."""
    chain = tuple(ancestry(lot))
    if not (lot.item.tcs and lot.item.ready_to_eat):
        return LotDate(chain)
    first = chain[0]
    made_here = first.origin == Lot.Origin.BATCH or first.item.kind == first.item.Kind.PREP
    stages = [stage for stage in map(_stage, chain) if stage is not None]
    day_one = first_marked_day(stages, made_here) if len(stages) == len(chain) else None
    if day_one is None:
        unmarked = made_here or any(stage.opened for stage in stages)
        return LotDate(chain, None, judge(None, None, on) if unmarked else None)
    true = mark(
        day_one,
        on,
        freezes=freezes(stages),
        maker_use_by=None if made_here else first.use_by,
    )
    return LotDate(chain, true, judge(lot.use_by, true, on))


def ancestry(lot: Lot) -> list[Lot]:
    """The lot and those it is a part of, oldest first."""
    chain = [lot]
    while (parent := chain[-1].parent) is not None:
        chain.append(parent)
    return chain[::-1]


def _stage(lot: Lot) -> Stage | None:
    since = lot.state_since or lot.received_on
    if since is None:
        return None
    return Stage(since, lot.state == Lot.State.FROZEN, lot.state == Lot.State.OPENED)
