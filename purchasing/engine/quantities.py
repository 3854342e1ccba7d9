"""How many cases of each line, by the basis of its par, and why (R7 to R11)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from inventory.engine.projection import Bools, Floats
from inventory.engine.weighted import quantile
from purchasing.engine.costs import cheapest_cases
from purchasing.engine.lines import Line, LineDecision, Verdict, cases_for
from purchasing.engine.outlook import Outlook, in_chunks
from purchasing.engine.reasons import explained

# Halvings of a quantity that leave 10^-9 of 10^9 base units.
HALVINGS = 60


def decide_lines(lines: Sequence[Line], weights: Floats) -> list[LineDecision]:
    """One decision per line, in their order. ``weights`` (P,) of the sample paths."""
    decided: dict[int, LineDecision] = {}
    for positions, outlook in in_chunks(lines, weights):
        decisions = explained(outlook, verdicts(outlook))
        decided.update(zip(positions, decisions, strict=True))
    return [decided[position] for position in range(len(lines))]


def decided_again(
    lines: Sequence[Line], changed: Sequence[Verdict], weights: Floats
) -> list[LineDecision]:
    """The reasons of lines whose verdicts were changed after the decision."""
    decided: dict[int, LineDecision] = {}
    for positions, outlook in in_chunks(lines, weights):
        decisions = explained(outlook, [changed[i] for i in positions])
        decided.update(zip(positions, decisions, strict=True))
    return [decided[position] for position in range(len(lines))]


def verdicts(outlook: Outlook) -> list[Verdict]:
    """The decision of every line by its basis."""
    have = outlook.have()
    levels = np.array([line.terms.service_level for line in outlook.lines])
    needs = quantile(needs_of_paths(outlook), outlook.weights, levels)
    by_cost = cheapest_cases(outlook)
    return [
        _verdict(line, float(here), float(need), cost)
        for line, here, need, cost in zip(outlook.lines, have, needs, by_cost, strict=True)
    ]


def _verdict(line: Line, have: float, need: float, by_cost: int | None) -> Verdict:
    forecast = Verdict(cases_for(need, line.offer), have, need, have + need, "forecast", "R9")
    match line.terms.basis:
        case "fixed":
            return _fixed(line, have)
        case "greater":
            by_par = _fixed(line, have)
            larger = forecast if forecast.cases > by_par.cases else by_par
            return replace(larger, rule="R11")
        case "cost" if by_cost is not None:
            return replace(forecast, cases=by_cost, basis_used="cost", rule="R10")
        case _:
            return forecast


def _fixed(line: Line, have: float) -> Verdict:
    """R8: the par less what is there at the start of D1."""
    par = line.terms.par
    if par is None:
        raise ValueError(f"{line.key}: the basis {line.terms.basis} needs a par")
    need = max(0.0, par - have)
    return Verdict(cases_for(need, line.offer), have, need, par, "fixed", "R8")


def needs_of_paths(outlook: Outlook) -> Floats:
    """(I, P) the smallest quantity with which no draw of the reach is short on the path (R9).

    With nothing ordered, the sum of what the draws of the reach lack: whatever else could serve
    them outlives the new lot, so it does not matter which of the two is used first. That needs
    the reach to come before all other draws of the window; where a draw of a later day of use
    lies in between and competes for what outlives the new lot, the quantity is searched for.
    """
    late = outlook.late
    needs = late.total_lacking(outlook.without, late.reach)
    torn = np.flatnonzero(_reach_is_torn(outlook)).tolist()
    if torn:
        needs[torn] = _searched(Outlook.of([outlook.lines[i] for i in torn], outlook.weights))
    return needs


def _reach_is_torn(outlook: Outlook) -> Bools:
    """(I,) whether a draw beyond the reach comes before one of the reach."""
    late = outlook.late
    seen = np.logical_or.accumulate(late.beyond_reach, axis=1)
    return np.asarray((seen & late.reach).any(axis=1))


def _searched(outlook: Outlook) -> Floats:
    """(I, P) by halving: more of the new lot never causes a shortage."""
    late = outlook.late
    low = np.zeros((len(outlook.lines), len(outlook.weights)))
    high = late.total(late.qty, late.reach)
    negligible = 1e-9 + 1e-12 * high
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        short = outlook.with_order(middle).short
        misses = ((short > negligible[:, None]) & late.reach[:, :, None]).any(axis=1)
        low, high = np.where(misses, middle, low), np.where(misses, high, middle)
    return high
