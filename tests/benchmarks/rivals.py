"""Forecasters to be measured against: three simple rules, and two general-purpose libraries.

Each takes the rows known at an origin and the days to predict (rows without figures), and gives
quantiles and a mean for each. The libraries are those of the extra ``compare``, which wants an
environment of its own (statsforecast 2.0.3 goes with scipy 1.15.3)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.demand.backtest import LEVELS
from inventory.engine.demand.counts import count_quantiles
from inventory.engine.demand.normal import normal_quantile

Floats = npt.NDArray[np.float64]
Rival = Callable[[pd.DataFrame, pd.DataFrame], Floats]  # (days, levels + mean)

KEYS = ["outlet", "item"]
WEEKS_OF_MEAN = 4
WEEKS_OF_COUNTS = 26
LONGEST = 730  # days of history for exponential smoothing
LAGS = (7, 14, 21, 28, 364)


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


def exponential_smoothing(known: pd.DataFrame, days: pd.DataFrame) -> Floats:
    """statsforecast AutoETS on each series of open days, season = open days of a week."""
    from statsforecast import StatsForecast
    from statsforecast.models import AutoETS, SeasonalNaive

    found: dict[str, Floats] = {}
    for season, table in _by_season(known).items():
        spare = SeasonalNaive(season_length=season, alias="AutoETS")
        model = StatsForecast([AutoETS(season_length=season)], freq=1, fallback_model=spare)
        ahead = model.forecast(df=table, h=7, level=[40, 60, 80, 90])
        words = ["AutoETS", *(f"AutoETS-hi-{level}" for level in (40, 60, 80, 90)), "AutoETS"]
        for name, rows in ahead.groupby("unique_id"):
            found[str(name)] = np.nan_to_num(np.maximum(rows[words].to_numpy(), 0.0))
    order = days.sort_values("date").groupby(KEYS).cumcount().reindex(days.index)
    names = days["outlet"] + "|" + days["item"]
    return np.array([found[name][min(n, 6)] for name, n in zip(names, order, strict=True)])


def _by_season(known: pd.DataFrame) -> dict[int, pd.DataFrame]:
    """Long tables (unique_id, ds, y) by the number of weekdays on which a series is sold."""
    tables: dict[int, list[pd.DataFrame]] = {}
    for (outlet, item), rows in known.groupby(KEYS):
        share = pd.Series([day.weekday() for day in rows["date"]]).value_counts(normalize=True)
        season = max(int((share > 0.05).sum()), 1)
        y = rows["qty"].to_numpy(dtype=np.float64)[-LONGEST:]
        table = pd.DataFrame({"unique_id": f"{outlet}|{item}", "ds": np.arange(len(y)), "y": y})
        tables.setdefault(season, []).append(table)
    return {season: pd.concat(parts) for season, parts in tables.items()}


def boosted_trees(known: pd.DataFrame, days: pd.DataFrame) -> Floats:
    """LightGBM, one model for all series and each quantile, on lags, means and the calendar."""
    from lightgbm import LGBMRegressor

    table = _features(known, days)
    columns = [name for name in table if name not in ("qty", "outlet", "item", "date", "event")]
    train, ahead = table[table["qty"].notna()], table[table["qty"].isna()]
    train = train[train["date"] > train["date"].max() - pd.Timedelta(days=LONGEST)]
    common = {
        "n_estimators": 200, "learning_rate": 0.05, "num_leaves": 31, "min_child_samples": 20,
        "colsample_bytree": 0.8, "subsample": 0.8, "subsample_freq": 1, "random_state": 1,
        "n_jobs": 1, "verbose": -1,
    }  # fmt: skip
    models = [LGBMRegressor(objective="quantile", alpha=q, **common) for q in LEVELS]
    models.append(LGBMRegressor(objective="tweedie", **common))
    values = [model.fit(train[columns], train["qty"]).predict(ahead[columns]) for model in models]
    found = np.maximum(np.stack(values, axis=1), 0.0)
    found[:, :-1] = np.maximum.accumulate(found[:, :-1], axis=1)
    place = pd.MultiIndex.from_frame(ahead[[*KEYS, "date"]])
    wanted = pd.MultiIndex.from_frame(days[[*KEYS, "date"]])
    return np.array(pd.DataFrame(found, index=place).reindex(wanted))


def _features(known: pd.DataFrame, days: pd.DataFrame) -> pd.DataFrame:
    table = pd.concat([known, days.assign(qty=np.nan)]).sort_values([*KEYS, "date"])
    table = table.reset_index(drop=True)
    figures = table.set_index([*KEYS, "date"])["qty"]
    for lag in LAGS:
        then = table["date"] - pd.Timedelta(days=lag)
        table[f"lag{lag}"] = figures.reindex(
            pd.MultiIndex.from_arrays([table["outlet"], table["item"], then])
        ).to_numpy()
    shifted = table.groupby(KEYS)["qty"].shift(7)
    groups = shifted.groupby([table["outlet"], table["item"]])
    for width in (7, 28, 84):
        rolled = groups.rolling(width, min_periods=1).mean()
        table[f"mean{width}"] = rolled.droplevel([0, 1]).reindex(table.index)
    table["lags"] = table[[f"lag{lag}" for lag in LAGS[:4]]].mean(axis=1)
    dates = [day.timetuple() for day in table["date"]]
    table["weekday"] = [day.tm_wday for day in dates]
    table["season"] = [day.tm_yday for day in dates]
    table["place"] = table["outlet"].astype("category").cat.codes
    table["kind"] = table["item"].astype("category").cat.codes
    for kind in sorted({word for text in table["event"].unique() for word in text.split("+")}):
        table[f"event_{kind}"] = [kind in text.split("+") for text in table["event"]]
    return table.drop(columns="sold_out")


RIVALS: dict[str, Rival] = {
    "same-weekday mean": same_weekday_mean,
    "seasonal naive": seasonal_naive,
    "weekday negative binomial": weekday_counts,
    "exponential smoothing": exponential_smoothing,
    "gradient boosting": boosted_trees,
}
