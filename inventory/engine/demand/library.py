"""General forecasters of libraries, beside the plain ones, where somebody has installed them."""

from __future__ import annotations

from importlib.util import find_spec

import numpy as np
import pandas as pd

from inventory.engine.demand.plain import KEYS, Floats, Plain

LONGEST = 730  # days of history that they learn from


def library_methods() -> dict[str, Plain]:
    """By name; empty where none is installed (statsforecast is in the extra ``compare``)."""
    return {"exponential_smoothing": exponential_smoothing} if find_spec("statsforecast") else {}


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
