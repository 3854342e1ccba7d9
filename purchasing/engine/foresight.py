"""What could be known on each day of a replay: the rows before it, the calendars after it.

The paths of a day are the same for every policy, and so is what recipes and load-outs make of
them, since a replay keeps stock only where goods are bought. A fit is kept for a week.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, time, timedelta
from functools import cached_property

import numpy as np
import pandas as pd

from inventory.engine.dates import BusinessClock
from inventory.engine.demand.history import History
from inventory.engine.demand.paths import DemandModel, DemandPaths, draw_paths, learn_demand
from inventory.engine.demand.sessions import typed_covers
from inventory.engine.projection import Floats
from inventory.engine.reach import longest_chain_days
from purchasing.engine.horizon import Horizon
from purchasing.engine.inputs import ReorderInputs
from purchasing.engine.levels import LevelPlan
from purchasing.engine.offers import Pair, buyable
from purchasing.engine.reorder import Choices, Run

FIT_DAYS = 7  # a fit may be kept so many days


@dataclass(frozen=True, slots=True)
class Fit:
    """What was learnt from the rows before ``day``, and the portions (P,) drawn for the stops
    to come, by (stop key, item): they do not depend on the day on which they are asked for."""

    day: date
    model: DemandModel
    portions: dict[tuple[str, str], Floats]


@dataclass(frozen=True)
class DayAhead:
    """One day as seen at its first minute. ``choices``: what can be bought and when it comes.
    ``demand`` and ``levels`` are worked out when first asked for."""

    day: date
    run: Run
    choices: Choices
    horizon: Horizon
    foresight: Foresight

    @cached_property
    def demand(self) -> DemandPaths:
        return self.foresight.demand(self)

    @cached_property
    def levels(self) -> LevelPlan:
        return self.run.levels(self.horizon, self.demand)

    @cached_property
    def shortage_costs(self) -> dict[Pair, float]:
        """Of the pairs that are due."""
        due = {pair: self.choices[pair] for pair in sorted(self.due)}
        return self.run.shortage_costs(due, self.demand)

    @cached_property
    def due(self) -> frozenset[Pair]:
        """Pairs of which something may be ordered today: a supplier's cutoff falls on it."""
        return frozenset(pair for pair in self.choices if self._is_due(pair))

    def _is_due(self, pair: Pair) -> bool:
        slots = [one.slot for one in self.choices[pair]]
        if self.run.inputs.policy.bridge:
            slots += [one.slot for one in self.run.market.faster(*pair, date.max)]
        return any(slot is not None and self.is_today(slot.order_by) for slot in slots)

    def is_today(self, moment: int) -> bool:
        return self.run.clock.day_of(moment) == self.day

    @property
    def days(self) -> int:
        """Days of usage that a run would sample."""
        chain = longest_chain_days(self.run.inputs.kitchen)
        return (self.horizon.sampled - self.day).days + 1 + chain


@dataclass
class Foresight:
    """``known``: what a run on the replay's ``first`` day would read, with all later rows of
    its history; no decision is shown a row of its own day or later."""

    known: ReorderInputs
    first: date
    seed: int
    _fit: Fit | None = None
    _days: dict[date, DayAhead] = field(default_factory=dict)

    def of(self, day: date) -> DayAhead:
        """Days are asked for one after the other; those of weeks past are forgotten."""
        if day not in self._days:
            start = self._fitted_on(day)
            week = [start + timedelta(days=n) for n in range(FIT_DAYS)]
            self._days = {each: self._ahead(each) for each in week}
        return self._days[day]

    def _fitted_on(self, day: date) -> date:
        return day - timedelta(days=(day - self.first).days % FIT_DAYS)

    def _ahead(self, day: date) -> DayAhead:
        known = self._standing(day)
        midnight = BusinessClock(known.policy.time_zone).instant(day, time.min)
        run = Run.at(known, midnight)
        choices = buyable(run.market, run.sourcing)
        return DayAhead(day, run, choices, Horizon.of(known.kitchen, choices, day), self)

    def _standing(self, day: date) -> ReorderInputs:
        """Stops and bookings from ``day`` on, and which pairs were used before it. What was
        used comes in by the fit alone."""
        kitchen = self.known.kitchen
        return replace(
            self.known,
            kitchen=replace(
                kitchen,
                stops=tuple(stop for stop in kitchen.stops if stop.day >= day),
                bookings=tuple(one for one in kitchen.bookings if one.day >= day),
            ),
            history=History.empty(),
            used_before=frozenset(pair for pair, first in self.first_used.items() if first < day),
        )

    @cached_property
    def first_used(self) -> dict[Pair, date]:
        usage = self.known.history.usage
        days = pd.to_datetime(usage["day"]).dt.date
        firsts: dict[Pair, date] = {}
        for *pair, day in sorted(set(zip(usage["location"], usage["item"], days, strict=True))):
            firsts.setdefault((str(pair[0]), str(pair[1])), day)
        return firsts

    def history_before(self, day: date) -> History:
        """All that a decision of ``day`` may have seen of sales and usage."""
        history, end = self.known.history, pd.Timestamp(day)
        return History(
            history.sales[pd.to_datetime(history.sales["day"]) < end],
            history.usage[pd.to_datetime(history.usage["day"]) < end],
        )

    def demand(self, ahead: DayAhead) -> DemandPaths:
        """The paths of a run on that day, by the fit of its week."""
        fit, kitchen = self._fit_for(ahead.day), ahead.run.inputs.kitchen
        coming = [stop for stop in kitchen.stops if not stop.cancelled]
        paths = ahead.run.inputs.policy.paths
        drawn = draw_paths(
            fit.model,
            replace(kitchen, stops=()),
            first_day=ahead.day,
            days=ahead.days,
            seed=self.seed,
            paths=paths,
            used_today={},
        )
        certain = not fit.model.anything and not any(typed_covers(stop) for stop in coming)
        keys = {stop.key for stop in coming}
        return DemandPaths(
            weights=np.ones(1) if certain else np.full(paths, 1.0 / paths),
            first_day=ahead.day,
            stops={of: qty for of, qty in fit.portions.items() if of[0] in keys},
            direct=drawn.direct,
        )

    def _fit_for(self, day: date) -> Fit:
        start = self._fitted_on(day)
        if self._fit is None or self._fit.day != start:
            self._fit = None  # the old one's portions go before the new ones come
            self._fit = self._learnt(self._days[start])
        return self._fit

    def _learnt(self, ahead: DayAhead) -> Fit:
        """Far enough to draw from on the last of the days for which it is kept."""
        start, inputs = ahead.day, ahead.run.inputs
        days = max((each.day - start).days + each.days for each in self._days.values())
        history = self.history_before(start)
        model = learn_demand(history, inputs.kitchen, first_day=start, days=days)
        at_stops = draw_paths(
            model,
            inputs.kitchen,
            first_day=start,
            days=0,
            seed=self.seed,
            paths=inputs.policy.paths,
            used_today={},
        )
        return Fit(start, model, at_stops.stops)
