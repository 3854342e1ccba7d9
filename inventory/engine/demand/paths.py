"""Joint sample paths of demand from T on: portions per stop, direct usage per day (R5).

Guests of a stop: one turnout for all its dishes, part of it shared by every stop of that day.
Dishes divide the guests; each dish keeps its exact thinned distribution (ST-06) and moves with
the turnout. Every number depends on the seed and on its own codes and date only (R16).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.demand.counts import count_quantiles, thinned
from inventory.engine.demand.covers import Covers, learn_covers
from inventory.engine.demand.history import History
from inventory.engine.demand.joint import normals, shared, strata
from inventory.engine.demand.mix import MenuMix, SoldRates, learn_rates, menu_mix
from inventory.engine.demand.panel import build_panel
from inventory.engine.demand.sessions import counter_sales, past_sessions, stop_sales, typed_covers
from inventory.engine.demand.usage import UsageModel, learn_usage
from inventory.engine.kitchen import Kitchen, Stop
from inventory.engine.streams import stream

Floats = npt.NDArray[np.float64]

# Share of a turnout's variance that all stops of a day have in common (own assumption; a
# day's weather is worth 10 to 30 % of its variance).
STOPS_OF_A_DAY = 0.3
LONGEST_HISTORY = 1120  # days: three years of weeks, and what comes before them


@dataclass(frozen=True, slots=True)
class DemandPaths:
    """``weights`` (P,) sum to 1. ``stops``: portions (P,) by (stop key, item), bookings not
    included. ``direct``: base units (D, P) by (location, item), row d the business date
    ``first_day`` + d; row 0 is what is still to come today."""

    weights: Floats
    first_day: date
    stops: dict[tuple[str, str], Floats]
    direct: dict[tuple[str, str], Floats]


@dataclass(frozen=True, slots=True)
class DemandModel:
    """What the past of a business says, learnt from rows before ``first_day`` only. Good for
    drawing paths from that day on, or from a later one within the days it was learnt for."""

    first_day: date
    covers: Covers
    rates: SoldRates
    usage: UsageModel
    anything: bool  # whether there was a row at all


def demand_paths(
    history: History,
    kitchen: Kitchen,
    *,
    first_day: date,
    days: int,
    seed: int,
    paths: int,
    used_today: dict[tuple[str, str], float],
) -> DemandPaths:
    """Paths of ``days`` business dates from ``first_day`` (T). Only rows before T count;
    no history, no stop: nothing. ``used_today``: base units by (location, item)."""
    model = learn_demand(history, kitchen, first_day=first_day, days=days)
    return draw_paths(
        model,
        kitchen,
        first_day=first_day,
        days=days,
        seed=seed,
        paths=paths,
        used_today=used_today,
    )


def learn_demand(history: History, kitchen: Kitchen, *, first_day: date, days: int) -> DemandModel:
    """Learn from the rows before ``first_day``; forecast ``days`` dates from it."""
    rows = stop_sales(history.sales, kitchen, first_day)
    age = (pd.Timestamp(first_day) - rows["day"]).dt.days.to_numpy(dtype=np.float64)
    usage = _learn_usage(history, kitchen, first_day, days)
    return DemandModel(
        first_day,
        learn_covers(past_sessions(rows, kitchen, first_day)),
        learn_rates(rows, age, kitchen),
        usage,
        anything=bool(usage.keys) or not rows.empty,
    )


def draw_paths(
    model: DemandModel,
    kitchen: Kitchen,
    *,
    first_day: date,
    days: int,
    seed: int,
    paths: int,
    used_today: dict[tuple[str, str], float],
) -> DemandPaths:
    """Paths of ``days`` dates from ``first_day``, which may lie some days after the model's.
    With nothing to learn from there is one path, and it is certain."""
    coming = [stop for stop in kitchen.stops if stop.day >= first_day and not stop.cancelled]
    if not model.anything and not any(typed_covers(stop) for stop in coming):
        return DemandPaths(np.ones(1), first_day, {}, {})
    at_stops: dict[tuple[str, str], Floats] = {}
    for stop in sorted(coming, key=lambda stop: stop.key):
        portions = stop_portions(stop, model.covers, model.rates, kitchen, seed=seed, paths=paths)
        at_stops.update(portions)
    direct = model.usage.paths(first_day=first_day, days=days, seed=seed, paths=paths)
    for key, used in used_today.items():
        if key in direct:
            direct[key][0] = np.maximum(direct[key][0] - used, 0.0)
    return DemandPaths(np.full(paths, 1.0 / paths), first_day, at_stops, direct)


def stop_portions(
    stop: Stop, covers: Covers, rates: SoldRates, kitchen: Kitchen, *, seed: int, paths: int
) -> dict[tuple[str, str], Floats]:
    """Portions (P,) of each item at one stop; empty where nothing can be said."""
    mean = covers.mean(stop)
    mix = menu_mix(stop, rates, kitchen)
    if not mean or mix is None:
        return {}
    variance = covers.variance(mean)
    day = normals(seed, "day", "", stop.day, paths)
    score = shared(day, normals(seed, "turnout", stop.key, stop.day, paths), STOPS_OF_A_DAY)
    guests = _one(mean, variance, score)
    portions = _portions(stop, mix, mean, variance, guests, score, seed)
    return {(stop.key, item): row for item, row in zip(mix.items, portions, strict=True)}


def _one(mean: float, variance: float, score: Floats) -> Floats:
    chance = strata(score)[None, :]
    return np.asarray(count_quantiles(np.array([mean]), np.array([variance]), chance)[0])


def _portions(
    stop: Stop,
    mix: MenuMix,
    mean: float,
    variance: float,
    guests: Floats,
    score: Floats,
    seed: int,
) -> Floats:
    """Portions (K, P): ordered by guests x the day's share of the dish, with the chance of
    each guest's choice; then each dish at its own exact distribution."""
    paths = len(guests)
    drawn = [stream(seed, "choice", f"{stop.key}/{item}", stop.day) for item in mix.items]
    noise = np.array([source.standard_normal(paths) for source in drawn])
    share = _shares_of_the_day(mix, drawn, paths)
    expected = guests * share
    order = expected + np.sqrt(expected * np.maximum(1.0 - share, 0.0)) * noise
    means, variances = _marginals(mix, mean, variance)
    return count_quantiles(means, variances, strata(order + 1e-6 * score))


def _shares_of_the_day(mix: MenuMix, drawn: list[np.random.Generator], paths: int) -> Floats:
    """Shares (K, P): Dirichlet about the mean mix for dishes, fixed for what goes beside."""
    weight = mix.steadiness * mix.share
    gammas = [
        source.gamma(shape, size=paths) if shape > 0 else np.zeros(paths)
        for source, shape in zip(drawn, weight, strict=True)
    ]
    share = np.where(mix.dish[:, None], np.array(gammas), 0.0)
    share = share / np.maximum(share.sum(axis=0), 1e-300)
    return np.where(mix.dish[:, None], share, mix.share[:, None])


def _marginals(mix: MenuMix, mean: float, variance: float) -> tuple[Floats, Floats]:
    """Mean and variance (K,) of each item: thinned turnout, widened by the wandering mix."""
    share = mix.share
    means, plain = thinned(np.asarray(mean), np.asarray(variance), np.minimum(share, 1.0))
    wander = share * (1.0 - share) / (mix.steadiness + 1.0)
    mixed = plain + np.where(mix.dish, (variance + mean**2 - mean) * wander, 0.0)
    beside = share * mean + share**2 * variance
    return np.where(mix.dish, means, share * mean), np.where(mix.dish, mixed, beside)


def _learn_usage(history: History, kitchen: Kitchen, first_day: date, days: int) -> UsageModel:
    sold = counter_sales(history.sales, kitchen, first_day)
    columns = ["location", "item", "day", "qty"]
    used = history.usage.assign(sold_out=False)
    rows = pd.concat([sold[[*columns, "sold_out"]], used[[*columns, "sold_out"]]])
    closed = {code: place.closed_on for code, place in kitchen.places.items()}
    panel = build_panel(rows, until=first_day, longest=LONGEST_HISTORY, closed=closed)
    dates = [first_day + timedelta(days=d) for d in range(days)]
    open_ahead = _open_days(panel.keys, kitchen, dates) & panel.open_weekdays(dates)
    return learn_usage(panel, open_ahead, first_day=first_day)


def _open_days(
    keys: tuple[tuple[str, str], ...], kitchen: Kitchen, dates: list[date]
) -> npt.NDArray[np.bool_]:
    """Days (S, D) on which each outlet is open; a truck that has stops is out only then."""
    return np.array(
        [_is_out(outlet, kitchen, dates) for outlet, _ in keys], dtype=np.bool_
    ).reshape(len(keys), len(dates))


def _is_out(outlet: str, kitchen: Kitchen, dates: list[date]) -> list[bool]:
    place = kitchen.places[outlet]
    stops = [stop for stop in kitchen.stops if stop.location == outlet]
    held = {stop.day for stop in stops if not stop.cancelled}
    by_stop = bool(stops) and place.kind == "truck"
    return [place.is_open(day) and (day in held or not by_stop) for day in dates]
