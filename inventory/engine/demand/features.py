"""What the trees look at: how a day to forecast differs from what level x weekday x event
already say. Everything is known at the snapshot; ratios, so that series of any size compare."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from inventory.engine.demand.series import Flags, Floats, Ints, SeriesSet
from inventory.engine.demand.tracking import REFERENCE, Snapshot

YEAR = 364  # days: 52 whole weeks
_LONG_LEVEL = 4  # the 48-day level: what a series usually sells
_LOUDEST = 20.0  # units a series counts for at most in the movement of its outlet
_LONGEST_GAP = 5
SEASONS_FROM = 400  # days


@dataclass(frozen=True, slots=True)
class Past:
    """Running totals (S, D + 1) of figures and of days with one; ``closed`` (O, D + H + 8)."""

    sold: Floats
    days: Floats
    closed: Floats


def summed(series: SeriesSet, qty: Floats) -> Past:
    known = np.isfinite(qty)
    start = np.zeros((len(qty), 1))
    sold = np.cumsum(np.where(known, qty, 0.0), axis=1)
    days = np.cumsum(known.astype(np.float64), axis=1)
    shut = np.pad((~series.open_days).astype(np.float64), ((0, 0), (0, _LONGEST_GAP)))
    return Past(np.concatenate([start, sold], axis=1), np.concatenate([start, days], axis=1), shut)


def feature_rows(
    series: SeriesSet, qty: Floats, past: Past, note: Snapshot, rows: Ints, horizon: int
) -> Floats:
    """Features (len(rows) x horizon, F) of the days from the snapshot, series by series."""
    shape = len(rows), horizon
    columns = note.at + np.arange(horizon)
    outlet = series.outlet[rows]
    parts = [
        *_movements(series, note, rows, outlet),
        *_same_weekday(qty, note, rows, columns),
        *_calendar(series, past, outlet, columns),
        _last_year(series, past, note, columns)[outlet],
        *_kind_of_series(note, rows, outlet),
    ]
    full = [np.broadcast_to(part, shape) for part in parts]
    return np.stack([part.reshape(-1) for part in full], axis=1)


def _movements(series: SeriesSet, note: Snapshot, rows: Ints, outlet: Ints) -> list[Floats]:
    """Short levels against long ones: of the series, of its outlet, of all."""
    levels = np.maximum(note.levels, 1e-3)
    own = np.log(levels / np.maximum(note.levels[REFERENCE], 1e-3))[:, rows]
    size = np.minimum(levels[_LONG_LEVEL], _LOUDEST) / levels[_LONG_LEVEL]
    of_outlet = np.add.reduceat(levels * size, series.outlet_starts, axis=1)
    moved = np.log(of_outlet / of_outlet[REFERENCE])
    overall = np.log(of_outlet.sum(axis=1) / of_outlet[REFERENCE].sum())
    others = [k for k in range(len(levels)) if k != REFERENCE]
    mine = [own[k][:, None] for k in others]
    place = [moved[k, outlet][:, None] for k in (0, 1, 3, 5)]
    return [*mine, *place, *(np.array([[overall[k]]]) for k in (1, _LONG_LEVEL))]


def _same_weekday(qty: Floats, note: Snapshot, rows: Ints, columns: Ints) -> list[Floats]:
    """Last figures of that weekday against what is expected now: the last, and the mean of
    the last four. 1 where there is none."""
    factors = note.factors[rows, : len(columns)]
    expected = np.maximum(note.levels[REFERENCE, rows][:, None] * factors, 1e-3)
    weeks_back = (columns - note.at) // 7 + 1
    lags = [columns - 7 * (weeks_back + week) for week in range(4)]
    values = [np.where(lag >= 0, qty[rows][:, np.maximum(lag, 0)], np.nan) for lag in lags]
    known = np.isfinite(values)
    mean = np.where(known, values, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    four = np.where(known.any(axis=0), mean / expected, 1.0)
    last = np.where(known[0], values[0] / expected, 1.0)
    return [np.clip(last, 0.0, 4.0), np.clip(four, 0.0, 4.0)]


def _calendar(series: SeriesSet, past: Past, outlet: Ints, columns: Ints) -> list[Floats]:
    """Weekday, lead, days closed before and after, events on the day and beside it, season."""
    weekday = np.array([[series.weekday(int(column)) for column in columns]], dtype=np.float64)
    lead = (columns - columns[0])[None, :].astype(np.float64)
    season = [_season(series, int(column)) for column in columns]
    gaps = [_gap(past.closed, columns, step)[outlet] for step in (-1, 1)]
    width = series.events.shape[1]
    on = series.events[outlet][:, np.minimum(columns, width - 1)].astype(np.float64)
    some = series.any_event[outlet].astype(np.float64)
    beside = [some[:, np.clip(columns + step, 0, width - 1)] for step in (-1, 1)]
    return [
        weekday,
        lead,
        *gaps,
        *np.moveaxis(on, 2, 0),
        *beside,
        np.array([season]),
    ]


def _season(series: SeriesSet, column: int) -> float:
    """Day of the year; nothing before a whole year has been seen, when it would only say
    which rows are the latest."""
    if series.days < SEASONS_FROM:
        return 0.0
    return float(date.fromordinal(series.first_ordinal + column).timetuple().tm_yday)


def _gap(closed: Floats, columns: Ints, step: int) -> Floats:
    """Days (O, H) closed in a row beside each day, on the side of ``step``."""
    gap = np.zeros((len(closed), len(columns)))
    run = np.ones(gap.shape)
    for far in range(1, _LONGEST_GAP + 1):
        beside = np.clip(columns + step * far, 0, closed.shape[1] - 1)
        run = run * closed[:, beside]
        gap += run
    return gap


def _last_year(series: SeriesSet, past: Past, note: Snapshot, columns: Ints) -> Floats:
    """How each outlet moved (O, H) this time last year: log of the three weeks about the day
    over the three weeks before the snapshot's date; 0 where there was no last year."""
    before = note.at - YEAR
    if before < 21:
        return np.zeros((len(series.outlet_starts), len(columns)))
    centre = columns - YEAR
    mean, full = _mean_between(past, centre - 10, centre + 11)
    base, base_full = _mean_between(past, np.array([before - 21]), np.array([before]))
    ok = (full & base_full).astype(np.float64)
    moved = np.clip(np.log(mean + 1e-9) - np.log(base + 1e-9), -1.5, 1.5) * ok
    starts = series.outlet_starts
    together = np.add.reduceat(moved, starts, axis=0)
    return np.asarray(together / (np.add.reduceat(ok, starts, axis=0) + 0.5))


def _mean_between(past: Past, start: Ints, end: Ints) -> tuple[Floats, Flags]:
    end = np.minimum(end, past.sold.shape[1] - 1)
    start = np.maximum(start, 0)
    days = past.days[:, end] - past.days[:, start]
    sold = past.sold[:, end] - past.sold[:, start]
    return (sold + 1.0) / (days + 1e-9), np.asarray(days > 3)


def _kind_of_series(note: Snapshot, rows: Ints, outlet: Ints) -> list[Floats]:
    long = np.log(np.maximum(note.levels[_LONG_LEVEL, rows], 0.02))
    values = [long, note.share[rows], note.selling[rows]]
    places = [rows.astype(np.float64), outlet.astype(np.float64)]
    return [value[:, None] for value in (*values, *places)]
