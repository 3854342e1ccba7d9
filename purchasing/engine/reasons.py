"""Why each line is as it is: the table *Reasons* of the rules, a chunk of lines at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date

import numpy as np

from inventory.engine.kitchen import TOLERANCE
from inventory.engine.projection import Bools, Floats, Projected
from inventory.engine.weighted import WEIGHT_TOLERANCE, chance, mean, quantile
from purchasing.engine.lines import Line, LineDecision, Reasons, Verdict
from purchasing.engine.outlook import Outlook, Stretch, columns_of

HALF = 0.5
HIGH = 0.9


def explained(outlook: Outlook, verdicts: Sequence[Verdict]) -> list[LineDecision]:
    """The verdicts with their reasons, each line projected as ordered."""
    lines = outlook.lines
    cases = np.array([verdict.cases for verdict in verdicts])
    projected = outlook.with_order(cases * np.array([line.offer.pack_base for line in lines]))
    figures = _usage(outlook) | _chances(outlook, projected)
    figures["expiring_before_use"] = mean(outlook.spoiled(), outlook.weights)
    figures["expected_waste"] = mean(outlook.left_of_order(projected), outlook.weights)
    uncovered, runs_out = _cannot_cover(outlook), _runs_out_on(outlook, projected)
    return [
        LineDecision(
            line,
            verdict,
            _reasons(line, verdict, _row(figures, i), uncovered[i], runs_out[i]),
        )
        for i, (line, verdict) in enumerate(zip(lines, verdicts, strict=True))
    ]


def _row(figures: dict[str, Floats], i: int) -> dict[str, float]:
    return {key: float(values[i]) for key, values in figures.items()}


def _reasons(
    line: Line,
    verdict: Verdict,
    figures: dict[str, float],
    cannot_cover: tuple[date, ...],
    runs_out_on: date | None,
) -> Reasons:
    pack = line.offer.pack_base
    top_up, extra = verdict.topped_up * pack, verdict.for_break * pack
    unit_cost = float(line.case_price_for(verdict.cases)) / pack
    return Reasons(
        **asdict(line.held),
        **figures,
        expected_waste_value=figures["expected_waste"] * unit_cost,
        target=verdict.target,
        raw_need=verdict.raw_need,
        rounding=verdict.cases * pack - verdict.raw_need - top_up - extra,
        minimum_top_up=top_up,
        price_break_extra=extra,
        cannot_cover=cannot_cover,
        runs_out_on=runs_out_on,
        basis_used=verdict.basis_used,
        service_level=line.terms.service_level,
        rule=verdict.rule,
    )


def _usage(outlook: Outlook) -> dict[str, Floats]:
    """Mean usage and what it stays below on nine paths of ten, before and in the window."""
    early, late, weights = outlook.early, outlook.late, outlook.weights
    before = early.total(early.qty, early.before) + late.total(late.qty, late.before)
    within = late.total(late.qty, late.window)
    return {
        "use_to_delivery": mean(before, weights),
        "use_to_delivery_p90": quantile(before, weights, HIGH),
        "use_in_window": mean(within, weights),
        "use_in_window_p90": quantile(within, weights, HIGH),
    }


def _chances(outlook: Outlook, projected: Projected) -> dict[str, Floats]:
    """Weights of the paths that are short before the window, and in it without and with the
    order."""
    early, late, weights = outlook.early, outlook.late, outlook.weights
    before = early.is_short(outlook.unmet, early.before)
    before |= late.is_short(outlook.without, late.before)
    return {
        "stockout_chance_before_delivery": chance(before, weights),
        "stockout_chance_without": chance(late.is_short(outlook.without, late.window), weights),
        "stockout_chance_with": chance(late.is_short(projected, late.window), weights),
    }


def _cannot_cover(outlook: Outlook) -> list[tuple[date, ...]]:
    """Days of the window on which something is drawn that no lot of this delivery serves."""
    late = outlook.late
    return [
        tuple(date.fromordinal(int(day)) for day in np.unique(days[which]))
        for days, which in zip(late.day, late.beyond_reach, strict=True)
    ]


def _runs_out_on(outlook: Outlook, projected: Projected) -> list[date | None]:
    """The first day before D2 on which half the weight is short."""
    early = _first_short_day(outlook.early, outlook.unmet, outlook.weights)
    late = _first_short_day(outlook.late, projected, outlook.weights)
    first = np.where(early > 0, early, late)
    return [date.fromordinal(int(day)) if day else None for day in first]


def _first_short_day(stretch: Stretch, projected: Projected, weights: Floats) -> Floats:
    """(I,) ordinal of that day, 0 if there is none. Draws of one day stand together."""
    asked = stretch.before | stretch.window
    first = np.zeros(len(asked))
    today: Bools = np.zeros((len(asked), len(weights)), dtype=np.bool_)
    yesterday = np.zeros(len(asked), dtype=stretch.day.dtype)
    for j in columns_of(asked):
        same_day = stretch.day[:, j] == yesterday
        lacks = (projected.short[:, j] > TOLERANCE) & asked[:, j, None]
        today = (today & same_day[:, None]) | lacks
        half = chance(today, weights) >= HALF - WEIGHT_TOLERANCE
        first = np.where((first == 0) & half, stretch.day[:, j], first)
        yesterday = stretch.day[:, j]
    return first
