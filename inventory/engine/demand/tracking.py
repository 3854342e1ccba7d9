"""Level x weekday x event of many series, followed day by day.

Multiplicative exponential smoothing in ratio-of-sums form: a level is discounted sales over
discounted factors, so closed days and missing days need no filling. Weekday and event factors
are pulled from the series towards its outlet and from there towards all outlets. Nothing looks
ahead: what is known on a day follows from the days before it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inventory.engine.demand.normal import mean_above
from inventory.engine.demand.series import Flags, Floats, Ints, SeriesSet

# Half-lives of the levels in days that count; the third is the one factors refer to.
LEVEL_HALF_LIVES = np.array([3.0, 6.0, 12.0, 24.0, 48.0, 96.0])
REFERENCE = 2
# Settled on four sets of open demand data, on weeks before the last eight; flat about these.
WEEKDAY_KEEP = 0.5 ** (1 / 15.0)  # each time that weekday comes
EVENT_KEEP = 0.5 ** (1 / 200.0)
SPREAD_KEEP = 0.5 ** (1 / 40.0)
SELLING_KEEP = 0.97
WEEKDAY_STRENGTH, WEEKDAY_OUTLET_STRENGTH, WEEKDAY_ALL_STRENGTH = 6.0, 4.0, 1.0
EVENT_STRENGTH, EVENT_OUTLET_STRENGTH, EVENT_ALL_STRENGTH = 12.0, 6.0, 2.0
# A day further off than this many standard deviations is an accident, not news ...
ODD_BEYOND = 2.5
OFTEN = 0.7  # share of days with a sale below which a large one is never odd
NEVER_ODD = 3.0  # units more or less, which a small count may always be
ODD_WEIGHT = 0.1
# ... until the third in a row on the same side.
BELIEVED_AFTER = 3.0
YOUNG = 14.0  # days during which nothing is odd
DIES, REVIVES = (
    0.006,
    0.01,
)  # chance of going off sale, each day that sells, and of coming back, each day
_ZERO_EXTRA = 0.7  # 1 / r behind the chance of a day without a sale


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What was known before column ``at``. ``levels`` (K, S); ``factors`` (S, H) weekday x
    event of the H days from ``at``; ``selling`` (S,) chance that it is still on sale;
    ``share`` (S,) of days with a sale; ``seen`` (S,) days counted."""

    at: int
    levels: Floats
    factors: Floats
    selling: Floats
    share: Floats
    seen: Floats


@dataclass(slots=True)
class _State:
    sold: Floats  # (K, S) discounted sales
    due: Floats  # (K, S) discounted factors
    weekday_sold: Floats  # (7, S) discounted sales : level
    weekday_due: Floats
    event_sold: Floats  # (G, S)
    event_due: Floats
    spread: Floats  # (S,) usual relative error
    odd: Floats  # (S,) odd days in a row, signed
    selling: Floats
    share: Floats
    seen: Floats


@dataclass(frozen=True, slots=True)
class Tracked:
    """``snapshots`` in order; ``lifted`` (S, D): the figures with sold-out days raised to
    the demand that probably was."""

    snapshots: tuple[Snapshot, ...]
    lifted: Floats


def track(series: SeriesSet, at: list[int], horizon: int) -> Tracked:
    """Follow all series and note what was known before each column of ``at``."""
    state = _start(len(series.qty), series.events.shape[2])
    starts = series.outlet_starts
    lifted = series.qty.copy()
    wanted = set(at)
    notes: list[Snapshot] = []
    for column in range(series.days + 1):
        if column in wanted:
            notes.append(_note(state, series, starts, column, horizon))
        if column < series.days and np.isfinite(series.qty[:, column]).any():
            _follow(state, series, starts, lifted, column)
    return Tracked(tuple(notes), lifted)


def _start(rows: int, kinds: int) -> _State:
    levels = len(LEVEL_HALF_LIVES)
    return _State(
        sold=np.zeros((levels, rows)),
        due=np.zeros((levels, rows)),
        weekday_sold=np.zeros((7, rows)),
        weekday_due=np.zeros((7, rows)),
        event_sold=np.zeros((kinds, rows)),
        event_due=np.zeros((kinds, rows)),
        spread=np.full(rows, 0.3),
        odd=np.zeros(rows),
        selling=np.ones(rows),
        share=np.full(rows, 0.5),
        seen=np.zeros(rows),
    )


def _levels(state: _State) -> Floats:
    return state.sold / np.where(state.due > 0, state.due, 1.0)


def _pooled(
    sold: Floats, due: Floats, outlet: Ints, starts: Ints, strength: tuple[float, float, float]
) -> Floats:
    """Factor (S,): own ratio pulled to the outlet's, that to all outlets', that to 1."""
    own, within, between = strength
    outlet_sold, outlet_due = np.add.reduceat(sold, starts), np.add.reduceat(due, starts)
    everywhere = (outlet_sold.sum() + between) / (outlet_due.sum() + between)
    usual = (outlet_sold + within * everywhere) / (outlet_due + within)
    return np.asarray((sold + own * usual[outlet]) / (due + own))


def _weekday_factor(state: _State, outlet: Ints, starts: Ints, weekday: int) -> Floats:
    strength = WEEKDAY_STRENGTH, WEEKDAY_OUTLET_STRENGTH, WEEKDAY_ALL_STRENGTH
    return _pooled(
        state.weekday_sold[weekday], state.weekday_due[weekday], outlet, starts, strength
    )


def _event_factor(state: _State, outlet: Ints, starts: Ints, kind: int) -> Floats:
    strength = EVENT_STRENGTH, EVENT_OUTLET_STRENGTH, EVENT_ALL_STRENGTH
    return _pooled(state.event_sold[kind], state.event_due[kind], outlet, starts, strength)


def _note(state: _State, series: SeriesSet, starts: Ints, column: int, horizon: int) -> Snapshot:
    weekdays = [series.weekday(column + ahead) for ahead in range(horizon)]
    shape = np.array([_weekday_factor(state, series.outlet, starts, day) for day in range(7)])
    factors = shape[weekdays].T
    for kind in range(series.events.shape[2]):
        on = series.events[series.outlet, column : column + horizon, kind]
        if on.any():
            effect = _event_factor(state, series.outlet, starts, kind)
            factors = np.where(on, factors * effect[:, None], factors)
    return Snapshot(
        column,
        _levels(state),
        factors,
        state.selling.copy(),
        state.share.copy(),
        state.seen.copy(),
    )


def _follow(state: _State, series: SeriesSet, starts: Ints, lifted: Floats, column: int) -> None:
    """Learn from one day."""
    open_now = np.isfinite(series.qty[:, column])
    weekday = series.weekday(column)
    shape = _weekday_factor(state, series.outlet, starts, weekday)
    events, effect, trust = _events_of_the_day(state, series, starts, column)
    level = _levels(state)[REFERENCE]
    known = open_now & (level > 1e-9)
    mean = level * shape * effect
    sd = np.sqrt(np.maximum(mean, 1e-9) + (state.spread * mean) ** 2)
    sales = _demand(series, lifted, column, known, mean, state.spread * mean)
    weight, tame = _believed(state, sales, mean, sd, known)
    _learn_level(state, open_now, tame * trust * weight, trust * weight * shape * effect)
    one = np.where(known, level, 1.0)
    pull = np.where(known, level / (level + 3.0), 0.0)  # small counts say little of a factor
    firm = pull * trust * weight
    _learn(state.weekday_sold, state.weekday_due, weekday, known, WEEKDAY_KEEP,
           firm * tame / (one * effect), firm)  # fmt: skip
    for kind, on, factor in events:
        rest = np.maximum(one * shape * effect / factor, 1e-9)
        _learn(state.event_sold, state.event_due, kind, known & on, EVENT_KEEP,
               pull * sales / rest, pull)  # fmt: skip
    short = series.sold_out[:, column]
    _learn_habits(state, sales, mean, tame, weight, known, open_now, short)


def _events_of_the_day(
    state: _State, series: SeriesSet, starts: Ints, column: int
) -> tuple[list[tuple[int, Flags, Floats]], Floats, Floats]:
    """Events on, their joint factor (S,) and how far a day like it tells of the level (S,):
    little while the event is new."""
    events: list[tuple[int, Flags, Floats]] = []
    effect, trust = np.ones(len(series.outlet)), np.ones(len(series.outlet))
    for kind in range(series.events.shape[2]):
        on = series.events[series.outlet, column, kind]
        if on.any():
            factor = _event_factor(state, series.outlet, starts, kind)
            seen = min(float(state.event_due[kind].sum()), 50.0)
            events.append((kind, on, factor))
            effect = np.where(on, effect * factor, effect)
            trust = np.where(on, np.minimum(trust, (seen + 0.5) / (seen + 6.0)), trust)
    return events, effect, trust


def _demand(
    series: SeriesSet, lifted: Floats, column: int, known: Flags, mean: Floats, sd: Floats
) -> Floats:
    """The day's figures, 0 where there are none; sold-out ones raised (and noted)."""
    short = known & series.sold_out[:, column]
    if short.any():
        bound = series.qty[short, column]
        lifted[short, column] = mean_above(mean[short], sd[short], bound)
    return np.nan_to_num(lifted[:, column], nan=0.0)


def _believed(
    state: _State, sales: Floats, mean: Floats, sd: Floats, known: Flags
) -> tuple[Floats, Floats]:
    """Weight (S,) of the day and its figure tamed (S,): an odd day alone is nearly ignored,
    one of a run is believed."""
    judged = known & (state.seen >= YOUNG)
    low = mean - ODD_BEYOND * sd - NEVER_ODD
    high = (mean + ODD_BEYOND * sd) / np.maximum(state.share, 0.1) + NEVER_ODD
    high = np.where(state.share < OFTEN, np.inf, high)
    side = np.where(judged, (sales > high).astype(np.float64) - (sales < low), 0.0)
    run = np.where(np.sign(state.odd) == side, state.odd + side, side)
    state.odd = np.where(known, run, state.odd)
    alone = (side != 0) & (np.abs(run) < BELIEVED_AFTER)
    bounded = np.clip(sales, low, high)
    return np.where(alone, ODD_WEIGHT, 1.0), np.where(judged, bounded, sales)


def _learn_level(state: _State, on: Flags, sold: Floats, due: Floats) -> None:
    keep = (0.5 ** (1.0 / LEVEL_HALF_LIVES))[:, None]
    state.sold = np.where(on, keep * state.sold + sold, state.sold)
    state.due = np.where(on, keep * state.due + due, state.due)


def _learn(
    sold: Floats, due: Floats, row: int, on: Flags, keep: float, more_sold: Floats, more: Floats
) -> None:
    sold[row] = np.where(on, keep * sold[row] + more_sold, sold[row])
    due[row] = np.where(on, keep * due[row] + more, due[row])


def _learn_habits(
    state: _State,
    sales: Floats,
    mean: Floats,
    tame: Floats,
    weight: Floats,
    known: Flags,
    open_now: Flags,
    short: Flags,
) -> None:
    """Usual relative error, share of days with a sale, and whether it is still on sale."""
    off = np.minimum(1.25 * np.abs(tame / np.maximum(mean, 1e-9) - 1.0), 2.0)
    step = np.maximum(1.0 - SPREAD_KEEP, 1.0 / (state.seen + 4.0)) * weight
    whole = known & ~short
    state.spread = np.where(whole, state.spread + step * (off - state.spread), state.spread)
    none = (1.0 + _ZERO_EXTRA * np.where(known, mean, 0.0)) ** (-1.0 / _ZERO_EXTRA)
    none = np.maximum(none, 1.0 - state.share)
    still = state.selling * (1.0 - DIES * state.share) + (1.0 - state.selling) * REVIVES
    after_none = still * none / (still * none + 1.0 - still)
    state.selling = np.where(known, np.where(sales > 0, 1.0, after_none), state.selling)
    sold = np.where(open_now, (sales > 0).astype(np.float64), state.share)
    state.share = SELLING_KEEP * state.share + (1.0 - SELLING_KEEP) * sold
    state.seen = state.seen + open_now
