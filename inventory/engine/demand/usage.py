"""Direct usage, and sales of places and days without stops: paths from the forecaster."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from inventory.engine.demand.comovement import Shares, shares
from inventory.engine.demand.forecaster import Forecast, forecast
from inventory.engine.demand.joint import normals, ranks
from inventory.engine.demand.panel import Panel
from inventory.engine.demand.series import Flags, Floats, SeriesSet

LEVEL, PLACE_LEVEL, OWN, PLACE, DAY = "level", "place level", "usage", "place", "day"


@dataclass(frozen=True, slots=True)
class UsageModel:
    """Forecast of every series for the days from ``first_day``, and how their errors go
    together. ``keys``: outlet and item of each row."""

    keys: tuple[tuple[str, str], ...]
    first_day: date
    found: Forecast | None
    together: Shares

    def paths(
        self, *, first_day: date, days: int, seed: int, paths: int
    ) -> dict[tuple[str, str], Floats]:
        """Base units (days, paths) by outlet and item, from ``first_day`` on; series of
        which nothing is expected are left out."""
        if self.found is None:
            return {}
        start = (first_day - self.first_day).days
        ahead = slice(start, start + days)
        dates = [first_day + timedelta(days=day) for day in range(days)]
        answer: dict[tuple[str, str], Floats] = {}
        for row, key in enumerate(self.keys):
            on = self.found.mean[row, ahead] > 0
            if on.any():
                scores = _scores(*key, dates, self.together, seed, paths)
                drawn = _drawn(self.found, row, ahead, scores)
                answer[key] = np.where(on[:, None], drawn, 0.0)
        return answer


def learn_usage(panel: Panel, open_ahead: Flags, *, first_day: date) -> UsageModel:
    """``open_ahead`` (S, D) says when each series' outlet is open from ``first_day`` on."""
    if not panel.keys:
        return UsageModel((), first_day, None, Shares())
    series = _series(panel, open_ahead)
    found = forecast(series)
    return UsageModel(
        panel.keys, first_day, found, shares(found.errors, found.spread, series.outlet)
    )


def _series(panel: Panel, open_ahead: Flags) -> SeriesSet:
    """The panel with its calendar: an outlet was open when any of its series has a figure."""
    starts = [rows[0] for rows in panel.outlet_rows.values()]
    past = np.maximum.reduceat(np.isfinite(panel.qty), starts, axis=0)
    ahead = np.maximum.reduceat(open_ahead, starts, axis=0)
    outlet = np.zeros(len(panel.keys), dtype=np.int64)
    outlet[starts[1:]] = 1
    return SeriesSet(
        qty=panel.qty,
        sold_out=panel.sold_out,
        outlet=np.cumsum(outlet),
        open_days=np.concatenate([past, ahead], axis=1),
        events=np.zeros((len(starts), panel.qty.shape[1] + open_ahead.shape[1], 0), dtype=bool),
        first_ordinal=panel.last_day.toordinal() - panel.qty.shape[1] + 1,
    )


def _scores(
    location: str, item: str, dates: list[date], together: Shares, seed: int, paths: int
) -> Floats:
    """Standard normal scores (D, P) that order the paths of each day."""
    code = f"{location}/{item}"
    own, place, day = (
        np.array([normals(seed, kind, name, day, paths) for day in dates])
        for kind, name in ((OWN, code), (PLACE, location), (DAY, ""))
    )
    level = normals(seed, LEVEL, code, dates[0], paths)
    place_level = normals(seed, PLACE_LEVEL, location, dates[0], paths)
    return np.asarray(
        np.sqrt(together.own) * own
        + np.sqrt(together.place_day) * place
        + np.sqrt(together.day) * day
        + np.sqrt(together.place_level) * place_level
        + np.sqrt(together.level) * level
    )


def _drawn(found: Forecast, row: int, ahead: slice, scores: Floats) -> Floats:
    """Each day at its own distribution, the paths in the order of their scores."""
    paths = scores.shape[-1]
    slices = found.slices(row, (np.arange(paths) + 0.5) / paths)[ahead]
    return np.take_along_axis(slices, ranks(scores), axis=-1)
