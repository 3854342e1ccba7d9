"""Guests per stop: one level for the business, with what is particular to a truck, a site,
a daypart, a weekday and an event, each pulled towards no difference."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from inventory.engine.demand.normal import mean_above
from inventory.engine.demand.sessions import Sessions, daypart, opening_text, typed_covers
from inventory.engine.demand.shrink import pulled
from inventory.engine.kitchen import Stop

Floats = npt.NDArray[np.float64]

# Own assumptions: how many services "no difference" counts for.
STRENGTH = {"location": 2.0, "site": 2.0, "daypart": 4.0, "weekday": 6.0, "event": 2.0}
HALF_LIFE = 56.0  # days
# A turnout off by 30 % is usual before anything is known of a business (own assumption).
PRIOR_EXTRA = 0.09
PRIOR_EXTRA_STRENGTH = 10.0
TYPED_STRENGTH = 5.0  # services that "the typed covers are right" counts for
_PASSES = 3
_SOLD_OUT_ROUNDS = 3

Effects = dict[str, dict[str, float]]


@dataclass(frozen=True, slots=True)
class Covers:
    """``level`` guests at a stop like any other (None: nothing to learn from); factors by
    kind and name; the variance of a turnout of mean m is m + ``extra`` x m^2;
    ``typed_ratio`` guests come for each cover typed."""

    level: float | None
    effects: Effects
    extra: float
    typed_ratio: float

    def mean(self, stop: Stop) -> float | None:
        """Expected guests: what was typed, corrected by how typing turned out, else ours."""
        typed = typed_covers(stop)
        if typed is not None:
            return typed * self.typed_ratio
        if self.level is None:
            return None
        names = {
            "location": stop.location,
            "site": stop.site,
            "daypart": daypart(opening_text(stop)),
            "weekday": str(stop.day.weekday()),
            "event": stop.event,
        }
        factors = [self.effects[kind].get(name, 1.0) for kind, name in names.items()]
        return self.level * float(np.prod(factors))

    def variance(self, mean: float) -> float:
        return mean + self.extra * mean**2


def learn_covers(sessions: Sessions) -> Covers:
    """Fit of past services; sold-out ones count with the guests that probably came."""
    if not len(sessions) or not sessions.guests.sum() > 0:
        return Covers(None, {kind: {} for kind in STRENGTH}, PRIOR_EXTRA, 1.0)
    lifted = sessions
    fit, fitted = _fit(lifted)
    for _ in range(_SOLD_OUT_ROUNDS if sessions.sold_out.any() else 0):
        lifted = replace(sessions, guests=_lifted(sessions, fit, fitted))
        fit, fitted = _fit(lifted)
    return replace(fit, typed_ratio=_typed_ratio(lifted))


def _fit(sessions: Sessions) -> tuple[Covers, Floats]:
    weight = 0.5 ** (sessions.age / HALF_LIFE)
    level, effects, fitted = _effects(sessions, weight)
    return Covers(level, effects, _extra(sessions, fitted, weight), 1.0), fitted


def _effects(sessions: Sessions, weight: Floats) -> tuple[float, Effects, Floats]:
    """Level, factors and guests fitted, by repeated passes: each kind explains what the
    others leave. A name left blank (no event, no site) is the level's own case: factor 1."""
    level = float((weight * sessions.guests).sum() / weight.sum())
    effects: Effects = {kind: {} for kind in STRENGTH}
    factor = {kind: np.ones(len(sessions)) for kind in STRENGTH}
    for _ in range(_PASSES):
        for kind in STRENGTH:
            others = [factor[other] for other in STRENGTH if other != kind]
            expected = level * np.prod(others, axis=0)
            ratios = _ratios(getattr(sessions, kind), sessions, weight, expected, kind)
            blank = ratios.get("", 1.0)
            level *= blank
            effects[kind] = {name: ratio / blank for name, ratio in ratios.items()}
            factor[kind] = np.array([effects[kind][name] for name in getattr(sessions, kind)])
    return level, effects, level * np.prod(list(factor.values()), axis=0)


def _ratios(
    names: npt.NDArray[np.object_], sessions: Sessions, weight: Floats, expected: Floats, kind: str
) -> dict[str, float]:
    """Guests come : guests expected, by name."""
    known, group = np.unique(names.astype(str), return_inverse=True)
    come = np.bincount(group, weight * sessions.guests).astype(np.float64)
    due = np.bincount(group, weight * expected).astype(np.float64)
    services = np.bincount(group, weight)
    usual = due / np.maximum(services, 1e-12)  # guests expected at one service of that name
    ratio = pulled(come, due, 1.0, STRENGTH[kind] * usual) if len(known) > 1 else [1.0]
    return {str(name): float(r) for name, r in zip(known, ratio, strict=True)}


def _extra(sessions: Sessions, fitted: Floats, weight: Floats) -> float:
    """Squared coefficient of variation beyond Poisson, by moments, pulled to the prior."""
    relative = ((sessions.guests - fitted) ** 2 - fitted) / np.maximum(fitted, 1e-12) ** 2
    total = (weight * relative).sum()
    pull = pulled(total, weight.sum(), PRIOR_EXTRA, PRIOR_EXTRA_STRENGTH)
    return max(0.0, float(pull))


def _lifted(sessions: Sessions, fit: Covers, fitted: Floats) -> Floats:
    where = sessions.sold_out
    sd = np.sqrt(fitted + fit.extra * fitted**2)
    guests = sessions.guests.copy()
    guests[where] = mean_above(fitted[where], sd[where], sessions.guests[where])
    return guests


def _typed_ratio(sessions: Sessions) -> float:
    """Guests that came for each cover typed, pulled towards one."""
    both = np.isfinite(sessions.typed) & (sessions.typed > 0)
    if not both.any():
        return 1.0
    usual = TYPED_STRENGTH * sessions.typed[both].mean()
    return float(pulled(sessions.guests[both].sum(), sessions.typed[both].sum(), 1.0, usual))
