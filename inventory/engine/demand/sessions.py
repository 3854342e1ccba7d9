"""Past services as the forecaster sees them: who served where, how many guests came."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.kitchen import Kitchen, Stop

Floats = npt.NDArray[np.float64]
Words = npt.NDArray[np.object_]

EVENING_FROM = "16:00"  # services that open earlier are lunch (own assumption)
_KEY = ["location", "day", "opens", "site"]


@dataclass(frozen=True, slots=True)
class Sessions:
    """One element per past service, sorted by location, day, hour and site.

    ``guests`` counts portions of dishes (of all goods where no dish is sold): one guest, one
    dish (common practice, no source). ``sold_out``: guests is a lower bound. ``typed`` are
    the covers typed beforehand, NaN if none. ``age`` is in days before T."""

    location: Words
    site: Words
    weekday: Words
    daypart: Words
    event: Words
    age: Floats
    guests: Floats
    sold_out: npt.NDArray[np.bool_]
    typed: Floats

    def __len__(self) -> int:
        return len(self.guests)


def daypart(opens: str) -> str:
    """``lunch`` or ``evening`` by the hour ``HH:MM`` (blank: lunch)."""
    return "evening" if opens >= EVENING_FROM else "lunch"


def opening_text(stop: Stop) -> str:
    return stop.opens.strftime("%H:%M") if stop.opens else ""


def typed_covers(stop: Stop) -> float | None:
    """Covers typed for a stop; what is guaranteed is the least that is planned for."""
    typed = [c for c in (stop.expected_covers, stop.guaranteed_covers) if c is not None]
    return max(typed) if typed else None


def stop_sales(sales: pd.DataFrame, kitchen: Kitchen, first_day: date) -> pd.DataFrame:
    """Sales rows made at stops, sorted, with ``session`` numbers; the rest was sold across
    the counter of a place (``counter_sales``)."""
    rows = _clean(sales, first_day)
    rows = rows[_at_stops(rows, kitchen)].sort_values([*_KEY, "item", "qty"])
    return rows.assign(session=rows.groupby(_KEY, sort=True).ngroup())


def counter_sales(sales: pd.DataFrame, kitchen: Kitchen, first_day: date) -> pd.DataFrame:
    """Sales rows of places and days without stops."""
    rows = _clean(sales, first_day)
    return rows[~_at_stops(rows, kitchen)]


def _clean(sales: pd.DataFrame, first_day: date) -> pd.DataFrame:
    day = pd.to_datetime(sales["day"])
    known = day < pd.Timestamp(first_day)
    return pd.DataFrame(
        {
            "location": sales["location"].astype(str),
            "site": _text(sales["site"]),
            "day": day,
            "opens": _text(sales["opens"]).str.slice(0, 5),
            "item": sales["item"].astype(str),
            "qty": sales["qty"].astype(float).clip(lower=0.0),
            "sold_out": sales["sold_out"].astype(object).eq(True),
        }
    )[known]


def _text(column: pd.Series[str]) -> pd.Series[str]:
    """Missing values as blanks."""
    return column.astype(object).where(column.notna(), "").astype(str)


def _at_stops(rows: pd.DataFrame, kitchen: Kitchen) -> pd.Series[bool]:
    """A truck that is known to have stops sells at stops only; another place does so on
    the days that have one, or where the row names a site or an hour."""
    with_stops = {stop.location for stop in kitchen.stops}
    trucks = {code for code in with_stops if kitchen.places[code].kind == "truck"}
    days = {(stop.location, stop.day) for stop in kitchen.stops if not stop.cancelled}
    on_day = [
        (where, day.date()) in days
        for where, day in zip(rows["location"], rows["day"], strict=True)
    ]
    named = rows["location"].isin(with_stops) & ((rows["site"] != "") | (rows["opens"] != ""))
    return rows["location"].isin(trucks) | named | pd.Series(on_day, index=rows.index, dtype=bool)


def guest_items(rows: pd.DataFrame, kitchen: Kitchen) -> pd.Series[bool]:
    """Rows whose portions count guests: dishes, or all goods where a place sells no dish."""
    dishes = {code for code, item in kitchen.items.items() if item.kind == "menu"}
    dish = rows["item"].isin(dishes)
    with_dishes = set(rows.loc[dish, "location"])
    return dish | ~rows["location"].isin(with_dishes)


def past_sessions(rows: pd.DataFrame, kitchen: Kitchen, first_day: date) -> Sessions:
    """Services behind the rows of ``stop_sales``."""
    counted = rows.assign(guests=rows["qty"].where(guest_items(rows, kitchen), 0.0))
    table = counted.groupby([*_KEY, "session"], as_index=False, sort=True).agg(
        {"guests": "sum", "sold_out": "any"}
    )
    stops = _matching_stops(table, kitchen.stops)
    sites = zip(table["site"], stops, strict=True)
    return Sessions(
        location=_words(list(table["location"])),
        site=_words([site or (stop.site if stop else "") for site, stop in sites]),
        weekday=_words([str(day.weekday()) for day in table["day"]]),
        daypart=_words([daypart(opens) for opens in table["opens"]]),
        event=_words([stop.event if stop else "" for stop in stops]),
        age=(pd.Timestamp(first_day) - table["day"]).dt.days.to_numpy(dtype=np.float64),
        guests=table["guests"].to_numpy(dtype=np.float64),
        sold_out=table["sold_out"].to_numpy(dtype=np.bool_),
        typed=np.array([_typed(stop) for stop in stops], dtype=np.float64),
    )


def _words(values: list[str]) -> Words:
    words = np.empty(len(values), dtype=np.object_)
    words[:] = values
    return words


def _typed(stop: Stop | None) -> float:
    covers = typed_covers(stop) if stop else None
    return np.nan if covers is None else covers


def _matching_stops(table: pd.DataFrame, stops: tuple[Stop, ...]) -> list[Stop | None]:
    """The planned stop behind each service: by hour where the row has one, else the only
    stop of that day."""
    by_hour = {(stop.location, stop.day, opening_text(stop)): stop for stop in stops}
    by_day: dict[tuple[str, date], list[Stop]] = {}
    for stop in stops:
        by_day.setdefault((stop.location, stop.day), []).append(stop)
    matches: list[Stop | None] = []
    for where, day, opens in zip(table["location"], table["day"], table["opens"], strict=True):
        that_day = by_day.get((where, day.date()), [])
        alone = that_day[0] if len(that_day) == 1 else None
        matches.append(by_hour.get((where, day.date(), opens), alone))
    return matches
