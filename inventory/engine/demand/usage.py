"""Direct usage, and sales of places and days without stops: paths from the forecaster."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from inventory.engine.demand.comovement import Shares, shares
from inventory.engine.demand.forecaster import Forecast, forecast
from inventory.engine.demand.joint import normals, ranks
from inventory.engine.demand.panel import Panel
from inventory.engine.demand.series import Flags, Floats, SeriesSet

LEVEL, PLACE_LEVEL, OWN, PLACE, DAY = "level", "place level", "usage", "place", "day"


def usage_paths(
    panel: Panel, open_ahead: Flags, *, first_day: date, seed: int, paths: int
) -> dict[tuple[str, str], Floats]:
    """Base units (D, P) by outlet and item; ``open_ahead`` (S, D) says when each is open.
    Series of which nothing is expected are left out."""
    if not panel.keys:
        return {}
    series = _series(panel, open_ahead)
    found = forecast(series)
    together = shares(found.errors, found.spread, series.outlet)
    dates = [first_day + timedelta(days=ahead) for ahead in range(open_ahead.shape[1])]
    answer: dict[tuple[str, str], Floats] = {}
    for row, key in enumerate(panel.keys):
        on = found.mean[row] > 0
        if on.any():
            scores = _scores(*key, dates, together, seed, paths)
            answer[key] = np.where(on[:, None], _drawn(found, row, scores), 0.0)
    return answer


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


def _drawn(found: Forecast, row: int, scores: Floats) -> Floats:
    """Each day at its own distribution, the paths in the order of their scores."""
    paths = scores.shape[-1]
    slices = found.slices(row, (np.arange(paths) + 0.5) / paths)
    return np.take_along_axis(slices, ranks(scores), axis=-1)
