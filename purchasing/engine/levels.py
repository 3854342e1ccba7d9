"""From stops to purchases (R12): what every place that buys will use, and when.

Works down from what guests want to what is bought, one item after the other in order of
depth and on all paths at once: load-outs, prep runs, raw draws. (P,) is the number of paths.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, time
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from inventory.engine.dates import BusinessClock
from inventory.engine.demand.paths import DemandPaths
from inventory.engine.draws import NO_HOUR, DrawKey, Draws
from inventory.engine.explosion import Explosion
from inventory.engine.hours import WorkHours
from inventory.engine.kitchen import Coming, Instant, Kitchen, StockLot
from inventory.engine.loadout import Aboard, load_targets
from inventory.engine.occasions import Occasion, PlaceDemand, place_demand, portions_by_stop
from inventory.engine.prep import PrepRun, PrepTable
from inventory.engine.recipes import leading_to, low_level_codes
from inventory.engine.shelf import Shelf
from inventory.engine.sourcing import Sourcing
from inventory.problems import Problem

Floats = npt.NDArray[np.float64]
Pair = tuple[str, str]  # place, item


@dataclass(frozen=True, slots=True)
class PlannedLoad:
    """One item of a load-out: ``target`` is what the stop should have, ``expected`` the mean
    of what leaves ``source``; base units. ``stop`` is empty where none is planned."""

    place: str
    source: str
    stop: str
    item: str
    leaves: Instant
    day: date
    target: float
    expected: float


@dataclass(frozen=True, slots=True)
class LevelPlan:
    """``draws``: usage of bought items by (place that buys, item), bookings included.

    ``needs``: the same of every other stock: made items where they are made, and whatever a
    place is supplied with, so that it can be told which lots will not be used in time.
    ``aboard`` and ``aboard_coming``: stock and arrivals elsewhere that count where the item
    is bought (R12.8), as lots of that place. ``not_ready``: what counts as nothing and why.
    """

    draws: dict[Pair, Draws]
    needs: dict[Pair, Draws]
    runs: tuple[PrepRun, ...]
    loads: tuple[PlannedLoad, ...]
    aboard: tuple[StockLot, ...]
    aboard_coming: tuple[Coming, ...]
    not_ready: tuple[Problem, ...]


def plan_levels(
    kitchen: Kitchen,
    demand: DemandPaths,
    *,
    clock: BusinessClock,
    as_of: Instant,
    until: date,
    default_service_level: float,
    service_levels: Mapping[Pair, float] | None = None,
    supplied_by: Mapping[Pair, str] | None = None,
    only: Collection[str] | None = None,
) -> LevelPlan:
    """Load-outs, prep runs and the raw usage of every place that buys, from ``as_of`` on.

    ``service_levels`` (0 to 1) and ``supplied_by`` are those of par rows, by (place, item).
    Draws that count and runs that start after ``until`` are left out; stops are planned for
    as far ahead as there are any, since their first steps may start long before them. ``only``:
    items whose figures are wanted, with whatever they go into; the others are left out, and
    these come out as they would with them.
    """
    settings = _Settings(until, default_service_level, service_levels or {}, supplied_by or {})
    wanted = kitchen.items.keys() if only is None else leading_to(kitchen.recipes, only)
    in_order = [item for item in _in_order_of_depth(kitchen) if item in wanted]
    planner = _planner(kitchen, demand, settings, clock, as_of)
    for item in in_order:
        for place in planner.sourcing.farthest_first(item):
            planner.plan(place, item)
    return planner.result()


def _in_order_of_depth(kitchen: Kitchen) -> list[str]:
    """An item comes after everything that it goes into; a cycle is refused by name."""
    depth = low_level_codes(kitchen.recipes)
    return sorted(kitchen.items, key=lambda item: (depth.get(item, 0), item))


@dataclass(frozen=True, slots=True)
class _Settings:
    until: date
    default_service_level: float
    service_levels: Mapping[Pair, float]
    supplied_by: Mapping[Pair, str]

    def service_level(self, place: str, item: str) -> float:
        return self.service_levels.get((place, item), self.default_service_level)


def _planner(
    kitchen: Kitchen,
    demand: DemandPaths,
    settings: _Settings,
    clock: BusinessClock,
    as_of: Instant,
) -> _Planner:
    hours = {code: WorkHours(place, clock, as_of) for code, place in kitchen.places.items()}
    portions = portions_by_stop(demand)
    wanted = {code: place_demand(kitchen, demand, portions, hours[code]) for code in sorted(hours)}
    explosion = Explosion.of(kitchen)
    return _Planner(
        kitchen=kitchen,
        settings=settings,
        sourcing=Sourcing(kitchen, settings.supplied_by),
        explosion=explosion,
        weights=demand.weights,
        hours=hours,
        wanted=wanted,
        uses=_exploded(wanted, explosion),
        lots=_by_pair(kitchen.lots),
        coming=_by_pair(kitchen.coming),
    )


Uses = list[tuple[Occasion, float]]


def _exploded(wanted: Mapping[str, PlaceDemand], explosion: Explosion) -> dict[Pair, Uses]:
    """Occasions at which a place uses an item, each with the quantity per unit wanted."""
    uses: dict[Pair, Uses] = defaultdict(list)
    for place, demand in wanted.items():
        for occasion in demand.occasions:
            for item, factor in explosion.carried(occasion.item).items():
                uses[place, item].append((occasion, factor))
    return dict(uses)


Held = TypeVar("Held", StockLot, Coming)


def _by_pair(held: Iterable[Held]) -> dict[Pair, list[Held]]:
    found: dict[Pair, list[Held]] = defaultdict(list)
    for one in held:
        found[one.location, one.item].append(one)
    return dict(found)


@dataclass(slots=True)
class _Planner:
    """What is given, what is asked of each place so far, and what was decided."""

    kitchen: Kitchen
    settings: _Settings
    sourcing: Sourcing
    explosion: Explosion
    weights: Floats
    hours: dict[str, WorkHours]
    wanted: dict[str, PlaceDemand]
    uses: dict[Pair, Uses]
    lots: dict[Pair, list[StockLot]]
    coming: dict[Pair, list[Coming]]
    asked: dict[Pair, dict[DrawKey, Floats]] = field(default_factory=dict)
    draws: dict[Pair, Draws] = field(default_factory=dict)
    needs: dict[Pair, Draws] = field(default_factory=dict)
    runs: list[PrepRun] = field(default_factory=list)
    loads: list[PlannedLoad] = field(default_factory=list)

    def plan(self, place: str, item: str) -> None:
        """Everything of ``item`` at ``place``: sent from elsewhere, made there, or bought."""
        if (place, item) not in self.uses and (place, item) not in self.asked:
            return
        source = self.sourcing.source(place, item)
        if source is not None:
            self._send(place, item, source)
            return
        for occasion, factor in self.uses.get((place, item), ()):
            self._ask(place, item, self._own_use(place, item, occasion), factor * occasion.qty)
        asked = self.asked.pop((place, item), {})
        if self.sourcing.is_made(item):
            self.needs[place, item] = Draws.of(asked) if asked else Draws.none(self._paths)
            self._make(place, item, asked)
        elif asked:
            self.draws[place, item] = Draws.of(asked)

    def _own_use(self, place: str, item: str, occasion: Occasion) -> DrawKey:
        """When a place that makes or buys draws for its own guests. A prep item must be
        ready at some moment: without an hour when the place opens, else as the day begins."""
        moment, hours = occasion.moment, self.hours[place]
        if moment == NO_HOUR and self.sourcing.is_made(item):
            opens = hours.opening(occasion.day)
            begins = max(hours.as_of, hours.clock.instant(occasion.day, time.min))
            moment = begins if opens is None else opens
        return moment, occasion.day, occasion.day

    def _send(self, place: str, item: str, source: str) -> None:
        """Asks ``source`` for what the place needs beyond what it holds; what is one stock
        everywhere is asked for in full (R12.8)."""
        one_stock = self.sourcing.is_one_stock(item)
        shelf = Shelf(self._paths) if one_stock else self._stock(place, item)
        if (place, item) in self.uses:
            self._load(place, item, source, shelf)
        asked = self.asked.pop((place, item), {})
        if not one_stock:
            self.needs[place, item] = self._needs(place, item, asked)
        for key in sorted(asked):
            moment, _, day_of_use = key
            self._ask(source, item, key, shelf.draw(asked[key], day_of_use, moment))

    def _needs(self, place: str, item: str, asked: Mapping[DrawKey, Floats]) -> Draws:
        """What a supplied place uses: at its stops, and for what it makes itself."""
        clock = self.hours[place].clock
        served = [
            ((one.moment(clock), one.day, one.day), qty)
            for one, qty in zip(self.wanted[place].services, self._need(place, item), strict=True)
        ]
        parts = [*served, *sorted(asked.items())]
        return Draws.merged(parts) if parts else Draws.none(self._paths)

    @property
    def _paths(self) -> int:
        return len(self.weights)

    def _load(self, place: str, item: str, source: str, shelf: Shelf) -> None:
        served, hours = self.wanted[place].services, self.hours[source]
        leaves = [
            hours.load_leaves(self.kitchen.places[place], one.day, one.opens) for one in served
        ]
        need = self._need(place, item)
        target = load_targets(need, self.weights, self.settings.service_level(place, item))
        loads = need
        if not self.sourcing.is_one_stock(item):
            loads = self._aboard(place, item, shelf, leaves).loads(need, target, served)
        for row in np.flatnonzero(loads.any(axis=1)):
            day, stop = served[row].day, served[row].key
            self._ask(source, item, self._key(source, item, leaves[row], day), loads[row])
            mean = float(loads[row] @ self.weights)
            self.loads.append(
                PlannedLoad(place, source, stop, item, leaves[row], day, float(target[row]), mean)
            )

    def _need(self, place: str, item: str) -> Floats:
        """What each service of a place uses of ``item``, (S, P) base units."""
        need = np.zeros((len(self.wanted[place].services), self._paths))
        for occasion, factor in self.uses.get((place, item), ()):
            need[occasion.service] += factor * occasion.qty
        return need

    def _aboard(self, place: str, item: str, shelf: Shelf, leaves: list[Instant]) -> Aboard:
        known, clock = self.kitchen.items[item], self.hours[place].clock
        is_truck = self.kitchen.places[place].kind == "truck"
        served = self.wanted[place].services
        return Aboard(
            shelf=shelf,
            keeps=known.kept_on_return or not is_truck,
            life_days=self._life(item),
            leaves=[clock.day_of(moment) for moment in leaves],
            serves=[service.moment(clock) for service in served],
            sent=self._sent(place, item),
        )

    def _sent(self, place: str, item: str) -> dict[int, float]:
        """Base units still on their way, by service whose load-out has left."""
        by_stop: dict[str, float] = {}
        for one in sorted(self.kitchen.load_outs, key=lambda one: (one.stop, one.item, one.qty)):
            qty = one.qty if one.item == item else 0.0
            by_stop[one.stop] = by_stop.get(one.stop, 0.0) + qty
        served = self.wanted[place].services
        return {row: by_stop[one.key] for row, one in enumerate(served) if one.key in by_stop}

    def _make(self, place: str, item: str, asked: Mapping[DrawKey, Floats]) -> None:
        needs: dict[tuple[Instant, date], Floats] = {}
        for moment, _, day_of_use in sorted(asked):
            _add(needs, (moment, day_of_use), asked[moment, _, day_of_use])
        recipe = self.kitchen.recipes[item]
        table = PrepTable(recipe, self._life(item), self.hours[place])
        runs = table.plan(needs, self._stock(place, item))
        self.runs.extend(run for run in runs if run.starts[0].day <= self.settings.until)
        for each, drawn in self.explosion.inputs(item).items():
            for run in runs:
                for batch in run.starts:
                    key = self._key(place, each, batch.start, batch.day)
                    self._ask(place, each, key, drawn * batch.qty)

    def _key(self, place: str, item: str, moment: Instant, day_of_use: date) -> DrawKey:
        hours = self.hours[place]
        pulled = hours.pulled(moment, self.kitchen.items[item])
        return pulled, hours.clock.day_of(pulled), day_of_use

    def _ask(self, place: str, item: str, key: DrawKey, qty: Floats) -> None:
        too_late = key[1] > self.settings.until and not self.sourcing.is_made(item)
        if qty.any() and not too_late:
            _add(self.asked.setdefault((place, item), {}), key, qty)

    def _stock(self, place: str, item: str) -> Shelf:
        lots, coming = self.lots.get((place, item), ()), self.coming.get((place, item), ())
        return Shelf.holding(self._paths, lots, coming, self.hours[place].clock)

    def _life(self, item: str) -> int | None:
        known = self.kitchen.items[item]
        return known.made_life_days if self.sourcing.is_made(item) else known.shelf_life_days

    def result(self) -> LevelPlan:
        return LevelPlan(
            draws=self.draws,
            needs=self.needs,
            runs=tuple(self.runs),
            loads=tuple(self.loads),
            aboard=self._elsewhere(self.kitchen.lots) + self._on_its_way_to_stops(),
            aboard_coming=self._elsewhere(self.kitchen.coming),
            not_ready=tuple(
                problem for place in sorted(self.wanted) for problem in self.wanted[place].not_ready
            ),
        )

    def _elsewhere(self, held: Iterable[Held]) -> tuple[Held, ...]:
        """What other places hold of goods that are one stock, as if where they are bought."""
        return tuple(
            replace(one, location=origin)
            for one in held
            if self.sourcing.is_one_stock(one.item)
            and (origin := self.sourcing.origin(one.location, one.item)) != one.location
        )

    def _on_its_way_to_stops(self) -> tuple[StockLot, ...]:
        places = {stop.key: stop.location for stop in self.kitchen.stops}
        return self._elsewhere(
            StockLot(places[one.stop], one.item, one.qty, None, None, "")
            for one in self.kitchen.load_outs
            if one.qty > 0 and one.stop in places
        )


Key = TypeVar("Key")


def _add(sums: dict[Key, Floats], key: Key, qty: Floats) -> None:
    sums[key] = sums[key] + qty if key in sums else qty
