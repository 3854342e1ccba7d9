"""How far the errors of one day, one place and one series go together.

Shares of the variance of a day's error that are common to all places that day (weather), to
one place that day, to one place for weeks (its level was misjudged), and to one series for
weeks; the rest is each day's own. From products of past standardised errors over pairs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inventory.engine.demand.series import Floats, Ints
from inventory.engine.demand.spread import Errors, Spread

MOST = 3.0  # standard deviations: one accident is not a habit
PAIR_STRENGTH = 60.0  # days that the prior counts for
# Before anything is known (own assumption; a day's shock is worth 10 to 30 %).
PRIOR_DAY, PRIOR_PLACE_DAY, PRIOR_PLACE_LEVEL, PRIOR_LEVEL = 0.05, 0.15, 0.05, 0.1
ALL_TOGETHER = 0.95


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of variance; together below 1."""

    day: float = PRIOR_DAY
    place_day: float = PRIOR_PLACE_DAY
    place_level: float = PRIOR_PLACE_LEVEL
    level: float = PRIOR_LEVEL

    @property
    def own(self) -> float:
        return 1.0 - self.day - self.place_day - self.place_level - self.level


def shares(errors: Errors, spread: Spread, outlet: Ints) -> Shares:
    """Shares learnt from past errors; ``outlet`` (S,) of each series."""
    if not len(errors.y):
        return Shares()
    z = _standardised(errors, spread)
    place = outlet[errors.row]
    week = errors.weeks.astype(np.int64)
    day = week * 100 + errors.lead
    same_day = _pairs(z, day)
    same_place_day = _pairs(z, day, place)
    same_place_week = _pairs(z, week, place)
    same_series_week = _pairs(z, week, errors.row)
    days = float(len(np.unique(day)))
    other_places = _ratio(same_day, same_place_day, PRIOR_DAY, days)
    place_day = _ratio(same_place_day, (0.0, 0.0), PRIOR_DAY + PRIOR_PLACE_DAY, days)
    between = same_place_day[0] + same_series_week[0], same_place_day[1] + same_series_week[1]
    place_level = _ratio(same_place_week, between, PRIOR_PLACE_LEVEL, days)
    level = _ratio(same_series_week, (0.0, 0.0), PRIOR_PLACE_LEVEL + PRIOR_LEVEL, days)
    # Pairs of a place on one day share its level as well.
    parts = [
        other_places,
        place_day - other_places - place_level,
        place_level,
        level - place_level,
    ]
    return _together(np.maximum(parts, 0.0))


def _standardised(errors: Errors, spread: Spread) -> Floats:
    variance = spread.variance(errors.mean, errors.row, errors.lead, errors.weekday, errors.event)
    z = np.clip((errors.y - errors.mean) / np.sqrt(variance), -MOST, MOST)
    return np.asarray(z / max(float(np.sqrt((z**2).mean())), 1e-9))


def _pairs(z: Floats, *keys: Ints) -> tuple[float, float]:
    """Sum of products over ordered pairs that agree in all keys, and their number."""
    _, group = np.unique(np.stack(keys), axis=1, return_inverse=True)
    total, squares = np.bincount(group.ravel(), z), np.bincount(group.ravel(), z**2)
    count = np.bincount(group.ravel()).astype(np.float64)
    return float((total**2 - squares).sum()), float((count * (count - 1.0)).sum())


def _ratio(
    pairs: tuple[float, float], without: tuple[float, float], prior: float, days: float
) -> float:
    """Mean product over the pairs less those counted elsewhere, pulled to the prior."""
    number = pairs[1] - without[1]
    if number <= 0:
        return prior
    found = (pairs[0] - without[0]) / number
    return (found * days + prior * PAIR_STRENGTH) / (days + PAIR_STRENGTH)


def _together(parts: Floats) -> Shares:
    total = float(parts.sum())
    day, place_day, place_level, level = parts * min(1.0, ALL_TOGETHER / max(total, 1e-9))
    return Shares(float(day), float(place_day), float(place_level), float(level))
