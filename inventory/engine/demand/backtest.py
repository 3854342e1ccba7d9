"""Rolling origins: what the forecaster would have said, week by week, and how it did.

Origins are the end of the table less 7 k days, k = weeks ... 1; only rows up to an origin are
used for it. Opening days and events of the days after it are known ahead, quantities are not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.demand.forecaster import forecast
from inventory.engine.demand.scores import Scores, score
from inventory.engine.demand.series import Flags, Floats, SeriesSet
from inventory.problems import Problem, Refused

LEVELS = np.array([0.5, 0.7, 0.8, 0.9, 0.95])
LEVEL_WORDS = ("0.5", "0.7", "0.8", "0.9", "0.95")
LONGEST = 1120  # days of history used: three years of weeks and what comes before them
Key = TypeVar("Key")
NEEDED = ("outlet", "item", "date", "qty")
PREDICTION_COLUMNS = ["outlet", "item", "origin", "date", "quantile", "value"]


@dataclass(frozen=True, slots=True)
class Backtest:
    """``days``: one row per outlet, item, origin and date predicted, with ``mean`` and a
    column for each of ``LEVEL_WORDS``."""

    days: pd.DataFrame
    origins: tuple[date, ...]

    def predictions(self) -> pd.DataFrame:
        """Long form: outlet, item, origin, date, quantile (or ``mean``), value."""
        keys = PREDICTION_COLUMNS[:4]
        long = self.days.melt(keys, [*LEVEL_WORDS, "mean"], var_name="quantile", value_name="value")
        return long.sort_values([*keys[2:3], *keys[:2], "date"], kind="stable", ignore_index=True)


def checked(table: pd.DataFrame) -> pd.DataFrame:
    """The table with proper types; refused with every problem at once."""
    missing = [column for column in NEEDED if column not in table]
    if missing:
        words = ", ".join(missing)
        raise Refused(Problem("column_missing", f"The table has no column {words}.", words))
    day = pd.to_datetime(table["date"], format="%Y-%m-%d", errors="coerce")
    qty = pd.to_numeric(table["qty"], errors="coerce")
    rows = pd.DataFrame(
        {
            "outlet": _text(table["outlet"]).str.strip(),
            "item": _text(table["item"]).str.strip(),
            "date": day,
            "qty": qty.astype(float),
            "event": _text(table["event"]) if "event" in table else "",
            "sold_out": _yes(table["sold_out"]) if "sold_out" in table else False,
        }
    )
    if problems := _row_problems(rows):
        raise Refused(problems)
    return rows.sort_values(["outlet", "item", "date"], ignore_index=True)


def _text(column: pd.Series) -> pd.Series:
    return column.astype(object).where(column.notna(), "").astype(str)


def _yes(column: pd.Series) -> pd.Series:
    return column.astype(str).str.lower().isin(("yes", "true", "1", "1.0"))


def _row_problems(rows: pd.DataFrame) -> list[Problem]:
    """Problems by the line of the file (line 1 is the header)."""
    again = rows.duplicated(["outlet", "item", "date"])
    number = np.isfinite(rows["qty"]) & (rows["qty"] >= 0)
    wrong = [
        ("outlet", rows["outlet"] == "", "the outlet is missing"),
        ("item", rows["item"] == "", "the item is missing"),
        ("date", rows["date"].isna(), "the date is not YYYY-MM-DD"),
        ("qty", ~number, "qty is not a number of 0 or more"),
        ("outlet", again, "outlet, item and date stand in an earlier line already"),
    ]
    return [
        Problem(f"bad_{field}", f"Line {line + 2}: {text}.", field)
        for field, where, text in wrong
        for line in np.flatnonzero(where)[:20]
    ]


def origins(table: pd.DataFrame, weeks: int) -> tuple[date, ...]:
    """Last dates whose rows may be used, ascending."""
    end = table["date"].max().date()
    return tuple(end - timedelta(days=7 * back) for back in range(weeks, 0, -1))


def backtest(table: pd.DataFrame, *, weeks: int = 8, horizon: int = 7) -> Backtest:
    """Predict the ``horizon`` days after each origin for every outlet and item with a row up
    to it, on the dates on which the outlet has any row. ``table`` as from ``checked``."""
    if table.empty or weeks < 1 or horizon < 1:
        text = "A backtest needs rows, and at least one week and one day ahead."
        raise Refused(Problem("nothing_to_test", text))
    chosen = origins(table, weeks)
    first = table["date"].min().date()
    parts = [_one_origin(table, origin, horizon) for origin in chosen if origin >= first]
    nothing = pd.DataFrame(columns=[*PREDICTION_COLUMNS[:4], *LEVEL_WORDS, "mean"])
    return Backtest(pd.concat(parts, ignore_index=True) if parts else nothing, chosen)


def _one_origin(table: pd.DataFrame, origin: date, horizon: int) -> pd.DataFrame:
    known = table[table["date"] <= pd.Timestamp(origin)]
    keys = sorted(set(zip(known["outlet"], known["item"], strict=True)))
    outlets = sorted({outlet for outlet, _ in keys})
    series = series_of(table, keys, outlets, origin, horizon)
    found = forecast(series)
    row, lead = np.nonzero(series.open_days[:, series.days :][series.outlet])
    values = found.quantiles(LEVELS)[row, lead]
    days = pd.DataFrame(
        {
            "outlet": [keys[r][0] for r in row],
            "item": [keys[r][1] for r in row],
            "origin": origin.isoformat(),
            "date": [(origin + timedelta(days=int(d) + 1)).isoformat() for d in lead],
        }
    )
    for column, word in enumerate(LEVEL_WORDS):
        days[word] = values[:, column]
    return days.assign(mean=found.mean[row, lead])


def series_of(
    table: pd.DataFrame,
    keys: list[tuple[str, str]],
    outlets: list[str],
    origin: date,
    horizon: int,
) -> SeriesSet:
    """All series as arrays: figures up to the origin, calendar up to ``horizon`` days on."""
    last = origin.toordinal()
    day = _ordinals(table["date"])
    inside = (day > last - LONGEST) & (day <= last + horizon)
    rows, day = table[inside], day[inside]
    first = min(int(day.min()), last) if len(day) else last
    width = last - first + 1
    row_of, outlet_of = _numbered(keys), _numbered(outlets)
    place = np.array([outlet_of.get(name, -1) for name in rows["outlet"]], dtype=np.int64)
    calendar = place >= 0
    open_days, events = _calendar(rows[calendar], place[calendar], day[calendar] - first,
                                  (len(outlets), width + horizon))  # fmt: skip
    past = rows[day <= last]
    at = [row_of[key] for key in zip(past["outlet"], past["item"], strict=True)]
    column = day[day <= last] - first
    qty = np.full((len(keys), width), np.nan)
    sold_out = np.zeros(qty.shape, dtype=np.bool_)
    qty[at, column] = past["qty"]
    sold_out[at, column] = past["sold_out"]
    outlet = np.array([outlet_of[name] for name, _ in keys], dtype=np.int64)
    return SeriesSet(qty, sold_out, outlet, open_days, events, first)


def _ordinals(days: pd.Series) -> npt.NDArray[np.int64]:
    since_1970 = (days - pd.Timestamp("1970-01-01")).dt.days.to_numpy(dtype=np.int64)
    return np.asarray(since_1970 + date(1970, 1, 1).toordinal())


def _numbered(keys: Sequence[Key]) -> dict[Key, int]:
    return {key: number for number, key in enumerate(keys)}


def _calendar(
    rows: pd.DataFrame,
    outlet: npt.NDArray[np.int64],
    column: npt.NDArray[np.int64],
    shape: tuple[int, int],
) -> tuple[Flags, Flags]:
    """Opening days and one layer per kind of event; several on a day are joined by ``+``."""
    open_days = np.zeros(shape, dtype=np.bool_)
    open_days[outlet, column] = True
    words = {text: text.split("+") for text in rows["event"].unique() if text}
    kinds = sorted({word for several in words.values() for word in several if word})
    events = np.zeros((*shape, len(kinds)), dtype=np.bool_)
    text = rows["event"].to_numpy()
    for layer, kind in enumerate(kinds):
        on = np.isin(text, [t for t, several in words.items() if kind in several])
        events[outlet[on], column[on], layer] = True
    return open_days, events


def scored(test: Backtest, table: pd.DataFrame) -> dict[str, Scores]:
    """Scores of the days with a figure: ``all``, and ``not_sold_out`` where days are marked."""
    actual = table.assign(date=table["date"].dt.strftime("%Y-%m-%d"))
    columns = ["outlet", "item", "date", "qty", "sold_out"]
    both = test.days.merge(actual[columns], on=["outlet", "item", "date"], how="inner")
    answer = {"all": _scores(both)}
    if table["sold_out"].any():
        answer["not_sold_out"] = _scores(both[~both["sold_out"].astype(bool)])
    return answer


def _scores(both: pd.DataFrame) -> Scores:
    origin = _ordinals(pd.to_datetime(both["origin"]))
    figures: Floats = both[list(LEVEL_WORDS)].to_numpy(dtype=np.float64)
    actual, mean = (both[name].to_numpy(dtype=np.float64) for name in ("qty", "mean"))
    return score(actual, mean, figures, LEVELS, origin)
