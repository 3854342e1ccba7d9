"""Plain forecasts that anybody can make by hand: what a better one must beat.

Each takes the rows known at an origin and the days to predict (``outlet``, ``item``, ``date``),
and gives for each day the quantiles of ``LEVELS`` and, last, the mean (n, Q + 1).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.demand.backtest import LEVELS, origins
from inventory.engine.demand.counts import count_quantiles
from inventory.engine.demand.normal import normal_quantile

Floats = npt.NDArray[np.float64]
Plain = Callable[[pd.DataFrame, pd.DataFrame], Floats]

KEYS = ["outlet", "item"]
WEEKS_OF_MEAN = 4
WEEKS_OF_COUNTS = 26


def same_weekday_mean(known: pd.DataFrame, days: pd.DataFrame) -> Floats:
    """Mean of the last four of that weekday; quantiles of its own past errors."""
    return _by_weekday(known, days, _mean_of_four)


def seasonal_naive(known: pd.DataFrame, days: pd.DataFrame) -> Floats:
    """The same weekday last week; normal errors of week on week."""
    return _by_weekday(known, days, _last_one)


def weekday_counts(known: pd.DataFrame, days: pd.DataFrame) -> Floats:
    """Negative binomial by moments of half a year of that weekday."""
    return _by_weekday(known, days, _counts)


def _by_weekday(
    known: pd.DataFrame, days: pd.DataFrame, rule: Callable[[Floats], Floats]
) -> Floats:
    series = dict(iter(known.groupby(KEYS)))
    answers: dict[tuple[str, str, int], Floats] = {}
    for outlet, item, day in zip(days["outlet"], days["item"], days["date"], strict=True):
        key = outlet, item, day.weekday()
        if key not in answers:
            rows = series[outlet, item]
            own = rows.loc[[date.weekday() == key[2] for date in rows["date"]], "qty"]
            past = (own if len(own) else rows["qty"]).to_numpy(dtype=np.float64)
            answers[key] = rule(past)
    return np.array(
        [
            answers[outlet, item, day.weekday()]
            for outlet, item, day in zip(days["outlet"], days["item"], days["date"], strict=True)
        ]
    )


def _mean_of_four(past: Floats) -> Floats:
    means = np.array([past[max(0, n - WEEKS_OF_MEAN) : n].mean() for n in range(1, len(past) + 1)])
    errors = (past[1:] - means[:-1])[-WEEKS_OF_COUNTS:]
    spread = np.quantile(errors, LEVELS) if len(errors) else np.zeros(len(LEVELS))
    return np.append(np.maximum(means[-1] + spread, 0.0), means[-1])


def _last_one(past: Floats) -> Floats:
    steps = np.diff(past)[-52:]
    sd = np.sqrt((steps**2).mean()) if len(steps) else 0.0
    return np.append(np.maximum(past[-1] + sd * normal_quantile(LEVELS), 0.0), past[-1])


def _counts(past: Floats) -> Floats:
    recent = past[-WEEKS_OF_COUNTS:]
    mean = np.array([recent.mean()])
    variance = np.array([recent.var(ddof=1)]) if len(recent) > 1 else mean
    return np.append(count_quantiles(mean, variance, LEVELS[None, :])[0], mean)


def predicted(table: pd.DataFrame, method: Plain, *, weeks: int, horizon: int = 7) -> pd.DataFrame:
    """Rolling origins as in ``backtest``: the rows predicted (``origin`` beside them), with a
    column for each of ``LEVELS`` by its number and ``mean``."""
    parts = [_one_origin(table, method, origin, horizon) for origin in origins(table, weeks)]
    return pd.concat(parts, ignore_index=True)


def _one_origin(table: pd.DataFrame, method: Plain, origin: date, horizon: int) -> pd.DataFrame:
    last = pd.Timestamp(origin)
    known = table[table["date"] <= last]
    inside = (table["date"] > last) & (table["date"] <= last + pd.Timedelta(days=horizon))
    days = table[inside]
    seen = set(zip(known["outlet"], known["item"], strict=True))
    days = days[[key in seen for key in zip(days["outlet"], days["item"], strict=True)]]
    values = method(known, days.assign(qty=np.nan)) if len(days) else np.zeros((0, len(LEVELS) + 1))
    figures = {number: values[:, number] for number in range(len(LEVELS))}
    return days.assign(origin=last.toordinal(), mean=values[:, -1], **{
        f"at{number}": column for number, column in figures.items()
    })  # fmt: skip
