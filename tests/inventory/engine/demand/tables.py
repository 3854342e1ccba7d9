"""Invented tables of daily demand for the tests of the forecaster."""

from __future__ import annotations

import numpy as np
import pandas as pd

from inventory.engine.demand.backtest import checked
from inventory.engine.demand.forecaster import Forecast, forecast
from inventory.engine.demand.series import SeriesSet

START = pd.Timestamp("2025-09-01")  # a Monday
WEEK_SHAPE = np.array([0.8, 0.9, 1.0, 1.0, 1.2, 1.4, 0.7])


def demand(means: dict[str, float], *, days: int = 140, seed: int = 1) -> pd.DataFrame:
    """Poisson demand with a weekday shape for items of one outlet."""
    rng = np.random.default_rng(seed)
    dates = [START + pd.Timedelta(days=day) for day in range(days)]
    rows = [
        ("Kiosk", item, date, float(rng.poisson(mean * WEEK_SHAPE[date.weekday()])), "")
        for item, mean in means.items()
        for date in dates
    ]
    return table(rows)


def table(rows: list[tuple[str, str, pd.Timestamp, float, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["outlet", "item", "date", "qty", "event"])
    return checked(frame.assign(date=frame["date"].dt.strftime("%Y-%m-%d")))


def one_outlet(qty: np.ndarray, *, ahead: int = 7, events: np.ndarray | None = None) -> SeriesSet:
    """Series (S, D) of one outlet, open every day, starting on a Monday."""
    width = qty.shape[1] + ahead
    none = np.zeros((1, width, 0), dtype=bool)
    return SeriesSet(
        qty=qty.astype(float),
        sold_out=np.zeros(qty.shape, dtype=bool),
        outlet=np.zeros(len(qty), dtype=np.int64),
        open_days=np.ones((1, width), dtype=bool),
        events=none if events is None else events,
        first_ordinal=START.toordinal(),
    )


def forecast_of(qty: np.ndarray, **more: object) -> Forecast:
    return forecast(one_outlet(qty, **more))  # type: ignore[arg-type]  # as one_outlet says
