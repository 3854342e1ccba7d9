"""Daily series side by side: one row per outlet and item, one column per day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# A weekday on which a place had no row that many times in a row is a closing day; fewer are
# enough where nearly every other day has rows (own assumptions).
_SHUT_WEEKS = 6
_SHUT_WEEKS_OF_THE_BUSY, _BUSY = 2, 0.8
# A day without any row is taken as closed or missing, rather than as a day of no use, when
# an open day without a row would have been rarer than this (own assumption).
_IMPLAUSIBLE = 0.02


@dataclass(frozen=True, slots=True)
class Panel:
    """``qty`` (S, D) in base units, NaN where the outlet was closed, the record is missing or
    the series had not begun; ``sold_out`` (S, D) marks lower bounds. Column d is the day
    ``last_day - D + 1 + d``; rows are sorted by outlet and item."""

    keys: tuple[tuple[str, str], ...]  # outlet, item
    last_day: date
    qty: Floats
    sold_out: Flags

    @property
    def weekdays(self) -> npt.NDArray[np.int64]:
        """Weekday of each column, Monday = 0."""
        ages = np.arange(self.qty.shape[1] - 1, -1, -1)
        return np.asarray((self.last_day.weekday() - ages) % 7, dtype=np.int64)

    def open_weekdays(self, days: list[date]) -> Flags:
        """Days (S, H) whose weekday is not one on which the outlet is always shut."""
        weekdays = [day.weekday() for day in days]
        answer = np.ones((len(self.keys), len(days)), dtype=np.bool_)
        for rows in self.outlet_rows.values():
            known = np.asarray(np.isfinite(self.qty[rows]).any(axis=0))
            answer[rows] = ~_shut_weekdays(known, self.weekdays)[weekdays]
        return answer

    @property
    def outlet_rows(self) -> dict[str, npt.NDArray[np.int64]]:
        """Row numbers of each outlet."""
        outlets = np.array([outlet for outlet, _ in self.keys], dtype=object)
        return {str(name): np.flatnonzero(outlets == name) for name in dict.fromkeys(outlets)}


def build_panel(
    rows: pd.DataFrame,
    *,
    until: date,
    longest: int,
    closed: dict[str, frozenset[date]],
) -> Panel:
    """Panel of the ``longest`` days before ``until`` from rows ``location, item, day, qty``
    (and ``sold_out``). Rows of one key and day add up; their order does not matter. A day
    without a row is 0, unless the outlet was closed then or plainly has no record."""
    table = _daily(rows, until, longest)
    keys = tuple(sorted(set(zip(table["location"], table["item"], strict=True))))
    row_of = {key: row for row, key in enumerate(keys)}
    row = [row_of[key] for key in zip(table["location"], table["item"], strict=True)]
    width = int(table["age"].max()) + 1 if len(table) else 0
    column = width - 1 - table["age"].to_numpy(dtype=np.int64)
    qty = np.zeros((len(keys), width))
    sold_out = np.zeros(qty.shape, dtype=np.bool_)
    qty[row, column] = table["qty"].to_numpy()
    sold_out[row, column] = table["sold_out"].to_numpy()
    seen = np.zeros(qty.shape, dtype=np.bool_)
    seen[row, column] = True
    panel = Panel(keys, date.fromordinal(until.toordinal() - 1), qty, sold_out)
    qty[~_open(panel, seen, closed)] = np.nan
    return panel


def _daily(rows: pd.DataFrame, until: date, longest: int) -> pd.DataFrame:
    """One row per key and day, sorted, with ``age`` in days (0: the day before ``until``)."""
    age = (pd.Timestamp(until) - pd.to_datetime(rows["day"])).dt.days - 1
    flags = rows["sold_out"].astype(bool) if "sold_out" in rows else False
    table = pd.DataFrame(
        {
            "location": rows["location"].astype(str),
            "item": rows["item"].astype(str),
            "age": age,
            "qty": rows["qty"].astype(float).clip(lower=0.0),
            "sold_out": flags,
        }
    )
    table = table[(table["age"] >= 0) & (table["age"] < longest)]
    table = table.sort_values(["location", "item", "age", "qty"])
    return table.groupby(["location", "item", "age"], as_index=False, sort=True).agg(
        {"qty": "sum", "sold_out": "any"}
    )


def _open(panel: Panel, seen: Flags, closed: dict[str, frozenset[date]]) -> Flags:
    """Days that count (S, D): from a series' first row, on days its outlet was open."""
    begun = np.maximum.accumulate(seen, axis=1) if seen.size else seen
    counts = np.zeros(seen.shape, dtype=np.bool_)
    for outlet, rows in panel.outlet_rows.items():
        open_days = _plausible_days(panel, seen[rows], begun[rows])
        open_days &= ~_marked(panel, closed.get(outlet, frozenset()))
        counts[rows] = seen[rows] | (begun[rows] & open_days)
    return counts


def _plausible_days(panel: Panel, seen: Flags, begun: Flags) -> Flags:
    """Days (D,) of one outlet with rows, or on which having none is no surprise."""
    quiet = np.ones(seen.shape[1])
    for weekday in range(7):
        on = panel.weekdays == weekday
        share = (seen[:, on].sum(axis=1) + 0.5) / (begun[:, on].sum(axis=1) + 1.0)
        none = np.where(begun[:, on], np.log1p(-share)[:, None], 0.0)
        quiet[on] = np.exp(none.sum(axis=0))
    some = np.asarray(seen.any(axis=0))
    shut = _shut_weekdays(some, panel.weekdays)[panel.weekdays]
    return np.asarray(some | ((quiet >= _IMPLAUSIBLE) & ~shut))


def _shut_weekdays(some: Flags, weekdays: npt.NDArray[np.int64]) -> Flags:
    """Weekdays (7,) on which a place with rows on ``some`` days (D,) never had any of late."""
    begun = np.flatnonzero(some)
    start = int(begun[0]) if len(begun) else len(some)
    some, weekdays = some[start:], weekdays[start:]
    shut = np.zeros(7, dtype=np.bool_)
    for weekday in range(7):
        on = weekdays == weekday
        busy = (~on).any() and some[~on].mean() >= _BUSY
        enough = _SHUT_WEEKS_OF_THE_BUSY if busy else _SHUT_WEEKS
        shut[weekday] = on.sum() >= enough and not some[on][-_SHUT_WEEKS:].any()
    return shut


def _marked(panel: Panel, days: frozenset[date]) -> Flags:
    width = panel.qty.shape[1]
    first = panel.last_day.toordinal() - width + 1
    marked = np.zeros(width, dtype=np.bool_)
    inside = [day.toordinal() - first for day in days if 0 <= day.toordinal() - first < width]
    marked[inside] = True
    return marked
