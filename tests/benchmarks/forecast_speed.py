"""Time and memory of forecasting many series with sample paths, beside exponential smoothing.

    python -m tests.benchmarks.forecast_speed [--series 10000] [--days 730] [--paths 200]
                                              [--smoothed 100]

Invented series, 20 to an outlet. statsforecast's AutoETS (extra ``compare``, in an environment of
its own) is timed on ``--smoothed`` of the same series and its time multiplied up; all is one
process on one core. Times are those of the processor, so that other work on the machine counts
little; the peak is that of the process up to our forecast, the series themselves included.
"""

from __future__ import annotations

import argparse
import resource
from datetime import date
from time import process_time

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.demand.panel import Panel
from inventory.engine.demand.usage import learn_usage

FIRST_DAY = date(2026, 3, 2)
HORIZON = 7
SERIES_OF_AN_OUTLET = 20
WEEK_SHAPE = np.array([0.8, 0.9, 1.0, 1.0, 1.2, 1.4, 0.7])


def invented(series: int, days: int) -> npt.NDArray[np.float64]:
    """Negative binomial counts (S, D) of mean 1 to 50 with a weekday shape."""
    rng = np.random.default_rng(1)
    level = rng.lognormal(2.0, 1.0, series)[:, None]
    mean = level * WEEK_SHAPE[np.arange(-days, 0) % 7]
    return np.asarray(rng.negative_binomial(8, 8.0 / (8.0 + mean)), dtype=np.float64)


def panel_of(qty: npt.NDArray[np.float64]) -> Panel:
    keys = tuple((f"K{n // SERIES_OF_AN_OUTLET:05}", f"I{n:06}") for n in range(len(qty)))
    last = date.fromordinal(FIRST_DAY.toordinal() - 1)
    return Panel(keys, last, qty, np.zeros(qty.shape, dtype=np.bool_))


def ours(qty: npt.NDArray[np.float64], paths: int) -> float:
    began = process_time()
    open_ahead = np.ones((len(qty), HORIZON), dtype=np.bool_)
    model = learn_usage(panel_of(qty), open_ahead, first_day=FIRST_DAY)
    found = model.paths(first_day=FIRST_DAY, days=HORIZON, seed=1, paths=paths)
    assert len(found) == len(qty)
    return process_time() - began


def smoothing(qty: npt.NDArray[np.float64]) -> float:
    from statsforecast import StatsForecast
    from statsforecast.models import AutoETS

    days = qty.shape[1]
    table = pd.DataFrame(
        {
            "unique_id": np.repeat(np.arange(len(qty)), days),
            "ds": np.tile(np.arange(days), len(qty)),
            "y": qty.ravel(),
        }
    )
    model = StatsForecast([AutoETS(season_length=7)], freq=1)
    model.forecast(df=table[table["unique_id"] == 0], h=HORIZON)  # compiled before it is timed
    began = process_time()
    model.forecast(df=table, h=HORIZON, level=[80])
    return process_time() - began


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=10_000)
    parser.add_argument("--days", type=int, default=730)
    parser.add_argument("--paths", type=int, default=200)
    parser.add_argument("--smoothed", type=int, default=100)
    chosen = parser.parse_args()
    qty = invented(chosen.series, chosen.days)
    mine = ours(qty, chosen.paths)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9
    print(f"ours: {chosen.series} series with {chosen.paths} paths: {mine:.1f} s, {peak:.2f} GB")
    try:
        theirs = smoothing(qty[: chosen.smoothed]) * chosen.series / chosen.smoothed
    except ImportError:
        return
    print(f"exponential smoothing, from {chosen.smoothed} of them: {theirs:.0f} s")
    print(f"ours takes {mine / theirs:.4f} of its time")


if __name__ == "__main__":
    main()
