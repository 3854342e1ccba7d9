"""The forecaster: a distribution for every series and day, from short, uneven histories.

Levels of several half-lives x weekday x event (``tracking``), mixed by how each did; small
trees for what these leave, as far as they proved themselves on weeks they had not seen; the
spread from past errors (``spread``); averaged with what a weekday usually brings as far as that
would have paid (``usual``). Every choice is made from the past of the data in hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inventory.engine.demand.features import Past, feature_rows, summed
from inventory.engine.demand.series import Flags, Floats, Ints, SeriesSet, units
from inventory.engine.demand.spread import Errors, Spread, demand_quantiles, fit_spread
from inventory.engine.demand.tracking import (
    LEVEL_HALF_LIVES,
    REFERENCE,
    Snapshot,
    Tracked,
    track,
)
from inventory.engine.demand.trees import (
    Sample,
    bin_edges,
    binned,
    grow,
    poisson_losses,
    sum_of,
)
from inventory.engine.demand.usual import Usual, averaged, paying_part, taken, usual

WEEK = 7
MOST_WEEKS = 156  # snapshots learnt from
JUDGED_WEEKS, JUDGED_HALF_LIFE = 26, 6.0  # weeks by which the levels are mixed
FEWEST_JUDGED = 60  # days, of all series together
OWN_STRESS = 4.0  # how much more a series' own record counts than that of all
SPREAD_WEEKS = 52
HELD_OUT_WEEKS = 13  # weeks by which the trees are judged
SETTLED = 14  # days after which a series teaches
FIRST_SNAPSHOT = 60  # days, where there are more than FIRST_SNAPSHOT + 240 of them
MOST_ROWS = 60_000  # rows the trees learn from: beyond, every n-th series
FEWEST_TREE_ROWS = 600
MOST_ROUNDS, FEWEST_ROUNDS = 250, 25
MEAN_TRUST = 0.5  # how far the mean follows the past ratio of what came to what was expected
# A day beyond so many standard deviations of a very uneven demand (and a few units) is a slip of
# the pen or will not come again: it must not raise the means of all series.
WILD_BEYOND, UNEVEN, FEW_UNITS = 6.0, 1.5, 5.0
# Errors of a level last for weeks, so a year's coverage flatters the next weeks': the more,
# the larger the mean beside its own chance (settled with the weeks in sight that the
# accuracy benchmark scores).
WIDER, WIDER_FROM = 0.15, 15.0
# Before the levels are judged: a week or so, and longer the noisier a day is beside its mean
# (a level's own error falls as noise / days, its age makes it wrong as days), in octaves.
STEADY_HALF_LIFE, NOISY_HALF_LIFE, OCTAVES = 7.0, 11.5, 1.1
LEAST = 1e-3  # units: the smallest mean that is worked with


@dataclass(frozen=True, slots=True)
class Forecast:
    """For S series and H days, in the units of the data: ``mean``; ``centre`` and
    ``variance`` of the fitted shape in working units; ``unit`` (S,) and ``counts`` (S,) lead
    back; 0 on closed days. ``errors`` are the past errors behind the spread (for how days and
    series move together). ``beside``: mean, variance (working units) and part (S, H) of the
    second opinion."""

    mean: Floats
    centre: Floats
    variance: Floats
    unit: Floats
    counts: Flags
    spread: Spread
    errors: Errors
    beside: tuple[Floats, Floats, Floats]

    def quantiles(self, levels: Floats) -> Floats:
        """Quantiles (S, H, Q) at ``levels`` (Q,), not falling with the level."""
        flat = self._worked(slice(None), levels)
        return flat.reshape(*self.centre.shape, -1) * self.unit[:, None, None]

    def _worked(self, rows: slice | int, levels: Floats) -> Floats:
        """Quantiles (n, Q) of the days of some rows in working units."""
        right = self.spread.right_levels(levels)
        own = demand_quantiles(self.centre[rows].ravel(), self.variance[rows].ravel(), right)
        mean, variance, part = (figure[rows].ravel() for figure in self.beside)
        return averaged(own, mean, variance, part, levels)

    def slices(self, row: int, levels: Floats) -> Floats:
        """Quantiles (H, Q) of one series as it would come: whole where it is counted."""
        values = self._worked(row, levels)
        return np.rint(values) if self.counts[row] else values * self.unit[row]


@dataclass(frozen=True, slots=True)
class _Book:
    """Past weeks side by side (N, S, 7): what came (NaN where it does not teach), expected
    levels (K, N, S, 7), and weeks ago (N,)."""

    notes: tuple[Snapshot, ...]
    came: Floats
    expected: Floats
    weeks: Ints


@dataclass(frozen=True, slots=True)
class _Proof:
    """Rounds of trees, the part of their correction that is taken, and the part of the
    squared error that this left on the weeks held out."""

    rounds: int = 0
    part: float = 0.0
    left: float = 1.0


def forecast(series: SeriesSet) -> Forecast:
    """Forecast of the ``series.horizon`` days after the last one."""
    unit, counts = units(series.qty)
    scaled = SeriesSet(
        series.qty / unit[:, None],
        series.sold_out,
        series.outlet,
        series.open_days,
        series.events,
        series.first_ordinal,
    )
    horizon = max(series.horizon, WEEK)
    tracked = track(_reaching(scaled, horizon), _snapshot_days(series.days), horizon)
    last = tracked.snapshots[-1]
    book = _book(scaled, tracked)
    mix = _mix(book)
    expected = _mixed(mix, book.expected)
    ahead = _mixed(mix, _expected(last, series.horizon))
    ahead, trees = _with_trees(scaled, tracked, book, expected, ahead)
    errors = _errors(scaled, book, expected)
    spread = fit_spread(errors, len(unit), WEEK)
    second = _second(scaled, tracked, errors, spread)
    return _forecast(scaled, spread, errors, last, ahead, trees, unit, counts, second)


def _reaching(series: SeriesSet, horizon: int) -> SeriesSet:
    """The same with a calendar of at least ``horizon`` days ahead: open, without events."""
    more = max(0, horizon - series.horizon)
    return SeriesSet(
        series.qty,
        series.sold_out,
        series.outlet,
        np.pad(series.open_days, ((0, 0), (0, more)), constant_values=True),
        np.pad(series.events, ((0, 0), (0, more), (0, 0))),
        series.first_ordinal,
    )


def _snapshot_days(days: int) -> list[int]:
    """Columns a whole number of weeks before the end, the end last."""
    first = FIRST_SNAPSHOT if days > FIRST_SNAPSHOT + 240 else WEEK
    return list(range(days, first - 1, -WEEK))[: MOST_WEEKS + 1][::-1] or [days]


def _expected(note: Snapshot, horizon: int) -> Floats:
    """Means (K, S, horizon) by each level, faded by the chance that it is still on sale."""
    factors = note.factors[:, :horizon] * note.selling[:, None]
    return np.maximum(note.levels[:, :, None] * factors, LEAST)


def _book(series: SeriesSet, tracked: Tracked) -> _Book:
    notes = tracked.snapshots[:-1]
    empty = np.zeros((0, len(series.qty), WEEK))
    came = [tracked.lifted[:, note.at : note.at + WEEK] for note in notes]
    teaches = [note.seen[:, None] >= SETTLED for note in notes]
    taught = [np.where(ok, week, np.nan) for ok, week in zip(teaches, came, strict=True)]
    expected = [_expected(note, WEEK) for note in notes]
    levels = len(LEVEL_HALF_LIVES)
    return _Book(
        notes,
        np.stack(taught) if taught else empty,
        np.stack(expected, axis=1) if expected else np.zeros((levels, *empty.shape)),
        np.array([(series.days - note.at) // WEEK for note in notes], dtype=np.int64),
    )


def _extra(came: Floats, expected: Floats) -> float:
    """1 / r of all series together, by moments: how much less a large count tells."""
    above = ((came - expected) ** 2 - expected).sum()
    return max(float(above / max((expected**2).sum(), 1e-9)), 1e-3)


def _mix(book: _Book) -> Floats:
    """Weights (K, S) of the levels: the prior, times exp(- how much worse each did for all
    series together, and for this one), in standard errors of the recent weeks' losses."""
    judged = book.weeks <= JUDGED_WEEKS
    came, expected = book.came[judged], book.expected[:, judged]
    ok = np.isfinite(came)
    if ok.sum() < FEWEST_JUDGED:
        return _prior_mix(np.zeros(came.shape[1]))
    recent = 0.5 ** ((book.weeks[judged] - 1) / JUDGED_HALF_LIFE)
    weight = np.where(ok, recent[:, None, None], 0.0)
    losses = weight * _losses(np.where(ok, came, 0.0), expected, ok)
    days, overall = weight.sum(axis=(0, 2)), losses.sum(axis=(1, 2, 3))
    usual = overall[REFERENCE] / days.sum()
    together = (overall - overall.min()) / (usual * np.sqrt(days.sum()))
    own = losses.sum(axis=(1, 3))
    usual_own = (own[REFERENCE] + 10.0 * usual) / (days + 10.0)
    alone = (own - own.min(axis=0)) / (usual_own * np.sqrt(days + 1.0))
    prior = np.log(_prior_mix(_noise(weight, np.where(ok, came, 0.0), expected[REFERENCE])))
    logs = prior - together[:, None] - OWN_STRESS * alone
    mix = np.exp(logs - logs.max(axis=0))
    return np.asarray(mix / mix.sum(axis=0))


def _noise(weight: Floats, came: Floats, expected: Floats) -> Floats:
    """Standard deviation of a day : mean (S,), from past errors and, for a start, Poisson."""
    days, sold = weight.sum(axis=(0, 2)), (weight * came).sum(axis=(0, 2))
    mean = np.maximum(sold / np.maximum(days, 1e-9), 0.02)
    squares = (weight * (came - expected) ** 2).sum(axis=(0, 2))
    variance = (squares + WEEK * mean) / (days + WEEK)
    return np.asarray(np.where(sold > 0, np.sqrt(variance) / mean, 0.0))


def _prior_mix(noise: Floats) -> Floats:
    """Weights (K, S) before the levels are judged."""
    best = np.maximum(NOISY_HALF_LIFE * noise, STEADY_HALF_LIFE)
    octaves = np.log2(LEVEL_HALF_LIVES[:, None] / np.minimum(best, LEVEL_HALF_LIVES[-1]))
    weight = np.exp(-0.5 * (octaves / OCTAVES) ** 2)
    return np.asarray(weight / weight.sum(axis=0))


def _losses(came: Floats, expected: Floats, ok: Flags) -> Floats:
    """Deviance (K, N, S, 7) of each level's means, large counts damped by their spread."""
    extra = _extra(came[ok], expected[REFERENCE][ok])
    sales = np.where(came > 0, came, 1.0)
    deviance = came * np.log(sales / expected) - (came - expected)
    return np.asarray(2.0 * deviance / (1.0 + extra * expected) + 1e-12)


def _mixed(mix: Floats, expected: Floats) -> Floats:
    """Means (..., S, H) from those of each level (K, ..., S, H)."""
    return np.asarray(np.einsum("ks,k...sh->...sh", mix, expected))


def _with_trees(
    series: SeriesSet, tracked: Tracked, book: _Book, expected: Floats, ahead: Floats
) -> tuple[Floats, _Proof]:
    """Means (S, H) after the trees, and how these did."""
    past = summed(series, tracked.lifted)
    rows = _taught_rows(book)
    if len(rows) == 0:
        return ahead, _Proof()
    y, base, feature, week = _table(series, tracked, past, book, expected, rows)
    held_out = week <= HELD_OUT_WEEKS
    if (~held_out).sum() < FEWEST_TREE_ROWS or not held_out.any():
        return ahead, _Proof()
    weight = 1.0 / (1.0 + _extra(y, base) * base)
    edges = bin_edges(feature)
    sample = Sample(binned(feature, edges), y, base, weight / (weight * base).mean())
    proof = _proved(sample, week)
    if proof.part == 0.0:
        return ahead, _Proof()
    trees, _ = grow(sample, proof.rounds, seed=1)
    everyone = np.arange(len(series.qty))
    last = tracked.snapshots[-1]
    now = feature_rows(series, tracked.lifted, past, last, everyone, ahead.shape[1])
    score = proof.part * sum_of(trees, binned(now, edges))
    return ahead * np.exp(score).reshape(ahead.shape), proof


def _taught_rows(book: _Book) -> Ints:
    """Series the trees learn from: all, or every n-th where there are very many."""
    teaching = np.isfinite(book.came).any(axis=(0, 2))
    rows = np.flatnonzero(teaching)
    step = 1 + int(np.isfinite(book.came).sum()) // MOST_ROWS
    return rows[::step]


def _table(
    series: SeriesSet, tracked: Tracked, past: Past, book: _Book, expected: Floats, rows: Ints
) -> tuple[Floats, Floats, Floats, Ints]:
    """What came, what was expected, features and weeks ago, one row a day that teaches."""
    ok = np.isfinite(book.came[:, rows])
    features = [
        feature_rows(series, tracked.lifted, past, note, rows, WEEK)[ok[n].reshape(-1)]
        for n, note in enumerate(book.notes)
    ]
    weeks = np.broadcast_to(book.weeks[:, None, None], ok.shape)[ok]
    return book.came[:, rows][ok], expected[:, rows][ok], np.concatenate(features), weeks


def _proved(sample: Sample, week: Ints) -> _Proof:
    """How far to trust trees: those of the older weeks are judged on the held-out ones. Half
    of the correction is taken when they gained nothing either way, more or less by how sure
    the gain is over weeks."""
    held_out = week <= HELD_OUT_WEEKS
    fresh = sample.only(held_out)
    trees, losses = grow(sample.only(~held_out), MOST_ROUNDS, seed=1, watch=fresh)
    rounds = max(int(np.argmin(losses)), FEWEST_ROUNDS)
    score = sum_of(trees[:rounds], fresh.bins)
    part = _part_by_weeks(fresh, score, week[held_out])
    after = fresh.expected * np.exp(part * score)
    left, before = (
        (fresh.weight * (fresh.y - mean) ** 2 / fresh.expected).sum()
        for mean in (after, fresh.expected)
    )
    return _Proof(rounds, part, float(np.clip(left / max(before, 1e-9), 0.5, 1.0)))


def _part_by_weeks(fresh: Sample, score: Floats, week: Ints) -> float:
    before = poisson_losses(fresh.y, fresh.expected, fresh.weight)
    after = poisson_losses(fresh.y, fresh.expected * np.exp(score), fresh.weight)
    present = np.unique(week)
    gain = np.bincount(week, before - after)[present]
    if len(gain) < 3:
        return 0.0
    sure = gain.mean() / max(gain.std(ddof=1) / np.sqrt(len(gain)), 1e-9)
    return float(np.clip(0.5 + 0.25 * sure, 0.0, 1.0))


def _errors(series: SeriesSet, book: _Book, expected: Floats) -> Errors:
    """Past forecasts of the last year beside what came (probably, on sold-out days)."""
    ok = np.isfinite(book.came) & (book.weeks <= SPREAD_WEEKS)[:, None, None]
    week, row, lead = np.nonzero(ok)
    column = np.array([note.at for note in book.notes], dtype=np.int64)[week] + lead
    return Errors(
        y=book.came[ok],
        mean=expected[ok],
        row=row,
        lead=lead,
        weekday=_weekdays(series, column),
        event=series.any_event[series.outlet[row], column].astype(np.int64),
        weeks=book.weeks[week].astype(np.float64),
    )


def _weekdays(series: SeriesSet, columns: Ints) -> Ints:
    return np.asarray((series.first_ordinal + columns - 1) % 7, dtype=np.int64)


def _second(
    series: SeriesSet, tracked: Tracked, errors: Errors, spread: Spread
) -> tuple[Usual, float]:
    """What each weekday usually brings, and the part that this takes."""
    selling = {note.at: note.selling for note in tracked.snapshots}
    part = paying_part(errors, spread, tracked.lifted, series.first_ordinal, selling)
    last = tracked.snapshots[-1]
    return usual(tracked.lifted, series.first_ordinal, last.at, last.selling), part


def _forecast(
    series: SeriesSet,
    spread: Spread,
    errors: Errors,
    last: Snapshot,
    ahead: Floats,
    trees: _Proof,
    unit: Floats,
    counts: Flags,
    second: tuple[Usual, float],
) -> Forecast:
    lead = np.arange(series.horizon)
    row = np.arange(len(unit))[:, None]
    columns = series.days + lead
    event = series.any_event[series.outlet, series.days :].astype(np.int64)
    open_days = series.open_days[:, series.days :][series.outlet]
    sold = last.levels.max(axis=0) > 0
    centre = np.where(open_days & sold[:, None], ahead, 0.0)
    variance = spread.variance(centre, row, lead, _weekdays(series, columns), event)
    unsure = 1.0 + 1.0 / np.maximum(last.seen, 1.0)  # of the level itself, in young series
    shared = 1.0 + WIDER * centre**2 / (centre**2 + WIDER_FROM**2)
    variance = np.where(centre > 0, variance * trees.left * unsure[:, None] * shared, 0.0)
    found, part = second
    calm = (centre > 0) & (event == 0)
    beside = taken(part, found, _weekdays(series, columns), calm)
    mean = centre * _mean_ratio(errors, trees)
    mean = (mean + beside[2] * (beside[0] - mean)) * unit[:, None]
    return Forecast(mean, centre, variance, unit, counts, spread, errors, beside)


def _mean_ratio(errors: Errors, trees: _Proof) -> float:
    """What came for each unit expected, taken half-way, as accidents count in a mean; less
    as far as the trees have seen to it. Wild days are left out."""
    if not len(errors.y):
        return 1.0
    usual_sd = np.sqrt(errors.mean + (UNEVEN * errors.mean) ** 2)
    wild = errors.y > errors.mean + WILD_BEYOND * usual_sd + FEW_UNITS
    weight = np.where(wild, 0.0, 0.5 ** (errors.weeks / 26.0))
    ratio = float(weight @ errors.y) / max(float(weight @ errors.mean), 1e-9)
    return 1.0 + MEAN_TRUST * (1.0 - trees.part) * (ratio - 1.0)
