"""Forecasters to be measured against: three plain rules, and two general-purpose libraries.

Each takes the rows known at an origin and the days to predict (rows without figures), and gives
quantiles and a mean for each. The libraries are those of the extra ``compare``, which wants an
environment of its own (statsforecast 2.0.3 goes with scipy 1.15.3)."""

from __future__ import annotations

import numpy as np
import pandas as pd

from inventory.engine.demand.backtest import LEVELS
from inventory.engine.demand.library import LONGEST, exponential_smoothing
from inventory.engine.demand.plain import (
    KEYS,
    Floats,
    Plain,
    same_weekday_mean,
    seasonal_naive,
    weekday_counts,
)

Rival = Plain
LAGS = (7, 14, 21, 28, 364)


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
