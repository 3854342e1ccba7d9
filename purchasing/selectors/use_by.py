"""Lots by money at risk: which will not be used in time, and what that costs.

Local code and the licensed person in charge decide what may be served; a lot past its use-by
or on hold counts as lost in full until somebody decides otherwise.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from inventory.engine.dates import BusinessClock
from inventory.engine.demand.paths import demand_paths
from inventory.engine.draws import Draws
from inventory.engine.help import Elsewhere, used_elsewhere
from inventory.engine.kitchen import TOLERANCE, Coming, Instant, StockLot
from inventory.engine.projection import Floats
from inventory.engine.reach import longest_chain_days
from inventory.engine.recipes import unit_costs
from inventory.engine.waste_risk import Risk, waste_risks
from inventory.models import Hold, OnHand
from inventory.selectors.business import business
from inventory.selectors.measures import Measures
from inventory.selectors.on_hand import stock_at
from inventory.selectors.snapshot import one_snapshot
from purchasing.engine.levels import LevelPlan, plan_levels
from purchasing.engine.pars import ParBook
from purchasing.selectors.reorder_inputs import Gathered, reorder_inputs

DEFAULT_DAYS = 14
DEFAULT_SEED = 1
Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class LotAtRisk:
    """Quantities in base units; ``value`` in money, None where no cost is known.
    ``elsewhere``: the place that would use most of what is lost here, if any would."""

    strip: str
    supplier_lot: str
    item: str
    location: str
    qty: Decimal
    use_by: date
    days_left: int
    on_hold: bool
    expected_waste: float
    value: float | None
    chance: float
    lot_id: int = 0
    location_id: int = 0
    cost: float | None = None  # of a base unit
    elsewhere: Elsewhere | None = None


def lots_at_risk(
    day: date,
    *,
    at: datetime | None = None,
    days: int = DEFAULT_DAYS,
    location: str | None = None,
    seed: int = DEFAULT_SEED,
) -> tuple[list[LotAtRisk], Measures]:
    """Lots on hand whose use-by is within ``days`` of ``day``, most money at risk first, then
    use-by, then strip number. ``at``: the moment of ``day`` that is looked at (None: as it
    begins). A fixed number of queries, plus the forecast."""
    moment = at or _start_of(day)
    with one_snapshot():
        gathered = reorder_inputs(moment)
        stock = stock_at(moment, day)
        held: set[tuple[int, int | None]] = set(
            Hold.objects.open_at(moment).values_list("lot_id", "location_id")
        )
    outlook = _outlook(gathered, moment, day, days, seed)
    costs = _costs(gathered, day)
    last = day + timedelta(days=days)
    lots = [
        _lot(row, qty, day, held, outlook, costs)
        for row, qty in stock
        if qty > 0
        and row.lot.use_by is not None
        and row.lot.use_by <= last
        and location in (None, row.location.code)
    ]
    in_order = sorted(lots, key=lambda lot: (-(lot.value or 0), lot.use_by, lot.strip))
    return in_order, gathered.measures


def _start_of(day: date) -> datetime:
    clock = BusinessClock(business().time_zone)
    return datetime.fromtimestamp(clock.instant(day, time.min), UTC)


def _lot(
    row: OnHand,
    qty: Decimal,
    day: date,
    held: set[tuple[int, int | None]],
    outlook: Outlook,
    costs: dict[str, float | None],
) -> LotAtRisk:
    lot, item = row.lot, row.item.code
    assert lot.use_by is not None
    on_hold = bool({(lot.pk, None), (lot.pk, row.location_id)} & held)
    risk = outlook.risks.get((row.location.code, lot.strip))
    lost = on_hold or lot.use_by < day or risk is None
    expected = float(qty) if lost or risk is None else risk.expected
    cost = float(lot.unit_cost) if lot.unit_cost is not None else costs.get(item)
    return LotAtRisk(
        strip=lot.strip,
        supplier_lot=lot.supplier_lot,
        item=item,
        location=row.location.code,
        qty=qty,
        use_by=lot.use_by,
        days_left=(lot.use_by - day).days,
        on_hold=on_hold,
        expected_waste=expected,
        value=None if cost is None else cost * expected,
        chance=1.0 if lost or risk is None else min(risk.chance, 1.0),
        lot_id=lot.pk,
        location_id=row.location_id,
        cost=cost,
        elsewhere=None if lost or risk is None else outlook.most_used_elsewhere(risk),
    )


@dataclass(frozen=True, slots=True)
class Outlook:
    """What every pair has, what comes and what it draws from ``day`` to ``last``; ``risks`` by
    location and strip number, of usable lots."""

    last: date
    weights: Floats
    clock: BusinessClock
    as_of: Instant
    stock: dict[Pair, list[StockLot]]
    coming: dict[Pair, list[Coming]]
    draws: dict[Pair, Draws]
    risks: dict[Pair, Risk]

    def most_used_elsewhere(self, risk: Risk) -> Elsewhere | None:
        """A few projections for each place that draws the item itself; trucks get theirs by
        their load-outs."""
        lot, best = risk.lot, None
        if risk.expected <= TOLERANCE:
            return None
        for place, item in self.draws:
            if item == lot.item and place != lot.location:
                used = self._used_at(place, replace(lot, qty=risk.expected))
                if used > max(TOLERANCE, best.qty if best else 0.0):
                    best = Elsewhere(place, used)
        return best

    def _used_at(self, place: str, extra: StockLot) -> float:
        pair = place, extra.item
        return used_elsewhere(
            extra,
            self.stock.get(pair, []),
            self.coming.get(pair, []),
            self.draws[pair],
            self.weights,
            until=self.last,
            clock=self.clock,
            as_of=self.as_of,
        )


def _outlook(gathered: Gathered, moment: datetime, day: date, days: int, seed: int) -> Outlook:
    kitchen, policy = gathered.inputs.kitchen, gathered.inputs.policy
    clock = BusinessClock(policy.time_zone)
    as_of = int(moment.timestamp())
    last = day + timedelta(days=days)
    demand = demand_paths(
        gathered.inputs.history,
        kitchen,
        first_day=day,
        days=days + 1 + longest_chain_days(kitchen),
        seed=seed,
        paths=policy.paths,
        used_today=gathered.inputs.used_today,
    )
    pars = ParBook.of(gathered.inputs.pars, policy.default_service_level)
    levels = plan_levels(
        kitchen,
        demand,
        clock=clock,
        as_of=as_of,
        until=last,
        default_service_level=policy.default_service_level,
        service_levels=pars.service_levels,
        supplied_by=pars.supplied_by,
    )
    stock, coming = _by_pair(kitchen.lots), _by_pair(kitchen.coming)
    found: dict[Pair, Risk] = {}
    for pair, lots in stock.items():
        draws = _draws(levels, pair, len(demand.weights)).between(day, last)
        risks = waste_risks(
            lots, coming.get(pair, []), draws, demand.weights, clock=clock, as_of=as_of
        )
        found |= {(risk.lot.location, risk.lot.strip): risk for risk in risks}
    drawn = {pair: draws.between(day, last) for pair, draws in levels.draws.items()}
    return Outlook(last, demand.weights, clock, as_of, stock, coming, drawn, found)


def _draws(levels: LevelPlan, pair: Pair, paths: int) -> Draws:
    return levels.draws.get(pair) or levels.needs.get(pair) or Draws.none(paths)


Held = TypeVar("Held", StockLot, Coming)


def _by_pair(rows: tuple[Held, ...]) -> dict[Pair, list[Held]]:
    found: dict[Pair, list[Held]] = defaultdict(list)
    for row in rows:
        found[row.location, row.item].append(row)
    return dict(found)


def _costs(gathered: Gathered, day: date) -> dict[str, float | None]:
    """Cost per base unit: the first-choice offer's price, and of what is made its lines'."""
    bought: dict[str, float] = {}
    for offer in sorted(gathered.inputs.offers, key=lambda o: (o.rank, o.supplier, o.sku)):
        price = offer.case_price_on(day)
        if price is not None:
            bought.setdefault(offer.item, float(Fraction(price)) / offer.pack_base)
    return unit_costs(gathered.inputs.kitchen.recipes, bought)
