"""How good the forecasts of the last weeks were on the house's own sales, beside plain ones."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from inventory.engine.demand.backtest import LEVEL_WORDS, LEVELS, backtest
from inventory.engine.demand.library import library_methods
from inventory.engine.demand.panel import Panel, build_panel
from inventory.engine.demand.plain import (
    Plain,
    predicted,
    same_weekday_mean,
    seasonal_naive,
    weekday_counts,
)
from inventory.engine.demand.scores import Scores, score
from inventory.models import Sale
from inventory.problems import Problem, Refused
from inventory.selectors import kitchen
from inventory.selectors.snapshot import one_snapshot

WEEKS = 8
FEWEST_DAYS = 7 * (WEEKS + 4)  # before there is anything to judge (own choice)
LONGEST = 1120  # days of history, as in ``backtest``
OURS = "ours"
PLAIN: Mapping[str, Plain] = {
    "same_weekday_mean": same_weekday_mean,
    "last_week": seasonal_naive,
    "half_a_year": weekday_counts,
}

Document = dict[str, Any]


def forecast_record(day: date) -> Document:
    """Scores of the last eight weeks before ``day``, all days and those not sold out; sums by
    week and by place. Raises ``Refused`` where sales are too few to judge by."""
    with one_snapshot():
        table = _sales_before(day)
    table = table[table["date"] < pd.Timestamp(day)]
    if table.empty or (table["date"].max() - table["date"].min()).days < FEWEST_DAYS:
        message = (
            f"The forecasts are judged by {WEEKS} weeks, and something to learn from before: "
            f"{FEWEST_DAYS} days of sales are needed. Load or enter sales."
        )
        raise Refused(Problem("too_few_sales", message))
    days = {OURS: _ours(table)}
    others = {**PLAIN, **library_methods()}
    days |= {word: predicted(table, method, weeks=WEEKS) for word, method in others.items()}
    ours = days[OURS]
    return {
        "first": ours["date"].min().date().isoformat(),
        "last": ours["date"].max().date().isoformat(),
        "series": int(len(ours[["outlet", "item"]].drop_duplicates())),
        "sold_out_days": int(ours["sold_out"].sum()),
        "all": {word: _scores(rows, rows["qty"].notna()) for word, rows in days.items()},
        "not_sold_out": {word: _scores(rows, ~rows["sold_out"]) for word, rows in days.items()},
        "weeks": _weeks(days),
        "places": _places(ours),
    }


def _sales_before(day: date) -> pd.DataFrame:
    """Rows ``outlet, item, date, qty, sold_out, event`` of every open day. Two queries."""
    rows = Sale.objects.filter(date__lt=day).order_by("location__code", "date", "item__code", "pk")
    columns = ("location__code", "item__code", "date", "qty", "sold_out_at")
    frame = pd.DataFrame(
        [(*row[:3], float(row[3]), row[4] is not None) for row in rows.values_list(*columns)],
        columns=["location", "item", "day", "qty", "sold_out"],
    )
    if frame.empty:
        return frame.rename(columns={"location": "outlet", "day": "date"})
    closed = {code: place.closed_on for code, place in kitchen.places().items()}
    return _table(build_panel(frame, until=day, longest=LONGEST, closed=closed))


def _table(panel: Panel) -> pd.DataFrame:
    row, column = np.nonzero(np.isfinite(panel.qty))
    first = pd.Timestamp(panel.last_day) - pd.Timedelta(days=panel.qty.shape[1] - 1)
    return pd.DataFrame(
        {
            "outlet": [panel.keys[number][0] for number in row],
            "item": [panel.keys[number][1] for number in row],
            "date": first + pd.to_timedelta(column, unit="D"),
            "qty": panel.qty[row, column],
            "event": "",
            "sold_out": panel.sold_out[row, column],
        }
    )


def _ours(table: pd.DataFrame) -> pd.DataFrame:
    """As ``predicted`` gives it."""
    days = backtest(table, weeks=WEEKS).days
    days = days.assign(
        date=pd.to_datetime(days["date"]),
        origin=[date.fromisoformat(text).toordinal() for text in days["origin"]],
    )
    renamed = {word: f"at{number}" for number, word in enumerate(LEVEL_WORDS)}
    both = days.merge(table, on=["outlet", "item", "date"], how="inner")
    return both.rename(columns=renamed)


def _scores(rows: pd.DataFrame, chosen: pd.Series[bool]) -> Document:
    kept = rows[chosen]
    quantiles = kept[[f"at{number}" for number in range(len(LEVELS))]].to_numpy(dtype=np.float64)
    actual, mean = (kept[name].to_numpy(dtype=np.float64) for name in ("qty", "mean"))
    found = score(actual, mean, quantiles, LEVELS, kept["origin"].to_numpy(dtype=np.int64))
    return _as_document(found)


def _as_document(found: Scores) -> Document:
    names = ("pinball", "wape", "bias", "coverage")
    figures = {name: getattr(found, name) for name in names}
    rounded = {name: None if one is None else round(one, 4) for name, one in figures.items()}
    return {"days": found.days, **rounded}


def _weeks(days: Mapping[str, pd.DataFrame]) -> list[Document]:
    """Sold and expected in each week, all places together."""
    sold = days[OURS].groupby("origin")["qty"].sum()
    expected = {word: rows.groupby("origin")["mean"].sum() for word, rows in days.items()}
    return [
        {
            "first": (date.fromordinal(origin) + timedelta(days=1)).isoformat(),
            "sold": round(float(sold.loc[origin]), 1),
            **{word: round(float(sums.get(origin, 0.0)), 1) for word, sums in expected.items()},
        }
        for origin in sold.index.to_list()
    ]


def _places(ours: pd.DataFrame) -> list[Document]:
    """Our scores by place, the worst first."""
    rows = [
        {"place": str(place), **_scores(part, part["qty"].notna())}
        for place, part in ours.groupby("outlet")
    ]
    return sorted(rows, key=lambda row: (-(row["wape"] or 0.0), row["place"]))
