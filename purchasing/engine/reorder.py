"""The reorder run: from the inputs of a moment to draft orders with their reasons."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from inventory.engine.dates import BusinessClock
from inventory.engine.demand.paths import DemandPaths, demand_paths
from inventory.engine.kitchen import Instant
from inventory.engine.projection import Floats
from inventory.engine.reach import longest_chain_days
from inventory.engine.sourcing import Sourcing
from purchasing.engine.asked import LineBook
from purchasing.engine.breaks import with_breaks
from purchasing.engine.bridges import Bridges
from purchasing.engine.consolidate import DraftOrder, Minimums, consolidate
from purchasing.engine.horizon import Horizon
from purchasing.engine.inputs import Offer, ReorderInputs
from purchasing.engine.levels import LevelPlan, plan_levels
from purchasing.engine.lines import Line, LineDecision, Reasons
from purchasing.engine.margins import shortage_costs
from purchasing.engine.offers import Choice, Market, Pair, buyable, cheapest
from purchasing.engine.pars import ParBook
from purchasing.engine.quantities import decide_lines
from purchasing.engine.slots import Slot

NO_DELIVERY = "no_delivery"
COULD_BE_BOUGHT = "could_be_bought"
Choices = dict[Pair, tuple[Choice, ...]]
Decide = Callable[[Sequence[Line], Floats], list[LineDecision]]


@dataclass(frozen=True, slots=True)
class LineLeftOut:
    """A pair that is not ordered. ``problem``: blank where nothing is needed, ``no_delivery``
    within 60 days (R2), ``could_be_bought`` for an item that is made (R1)."""

    supplier: str
    location: str
    item: str
    sku: str
    slot: Slot | None = None
    reasons: Reasons | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """``paths``: how many sample paths it rests on (1: demand is certain)."""

    orders: tuple[DraftOrder, ...]
    not_ordered: tuple[LineLeftOut, ...]
    paths: int
    levels: LevelPlan


def plan_orders(inputs: ReorderInputs, *, as_of: Instant, seed: int) -> Plan:
    """What to order from whom, for every place that buys, as seen at ``as_of`` (R3). The same
    inputs, moment and seed give the same plan (R15, R16)."""
    run = Run.at(inputs, as_of)
    choices = buyable(run.market, run.sourcing)
    horizon = Horizon.of(inputs.kitchen, choices, run.market.today)
    demand = run.demand(horizon, seed)
    levels = run.levels(horizon, demand)
    considered = run.considered(choices, levels)
    costs = run.shortage_costs(considered, demand)
    book = run.book(horizon, demand, levels, costs)
    decisions = run.decisions(book, considered, demand.weights)
    orders = consolidate(decisions, inputs.suppliers, run.minimums(demand))
    left_out = [
        *_not_needed(decisions, orders),
        *_without_delivery(considered),
        *_made_but_on_sale(run.market, run.sourcing),
    ]
    return Plan(
        orders=tuple(orders),
        not_ordered=tuple(sorted(left_out, key=lambda one: (one.location, one.item))),
        paths=len(demand.weights),
        levels=levels,
    )


@dataclass(frozen=True, slots=True)
class Run:
    """The inputs and what follows from them and the moment alone."""

    inputs: ReorderInputs
    as_of: Instant
    clock: BusinessClock
    pars: ParBook
    sourcing: Sourcing
    market: Market

    @classmethod
    def at(cls, inputs: ReorderInputs, as_of: Instant) -> Run:
        kitchen, clock = inputs.kitchen, BusinessClock(inputs.policy.time_zone)
        pars = ParBook.of(inputs.pars, inputs.policy.default_service_level)
        market = Market.at(_offers(inputs), inputs.suppliers, kitchen, clock=clock, as_of=as_of)
        return cls(inputs, as_of, clock, pars, Sourcing(kitchen, pars.supplied_by), market)

    def demand(self, horizon: Horizon, seed: int) -> DemandPaths:
        """Usage may be begun some days before it is sold, so it is known that much longer."""
        kitchen, today = self.inputs.kitchen, self.market.today
        return demand_paths(
            self.inputs.history,
            kitchen,
            first_day=today,
            days=(horizon.sampled - today).days + 1 + longest_chain_days(kitchen),
            seed=seed,
            paths=self.inputs.policy.paths,
            used_today=self.inputs.used_today,
        )

    def levels(
        self, horizon: Horizon, demand: DemandPaths, only: Collection[str] | None = None
    ) -> LevelPlan:
        """``only``: the items whose figures are wanted; None: all of them."""
        return plan_levels(
            self.inputs.kitchen,
            demand,
            clock=self.clock,
            as_of=self.as_of,
            until=horizon.known_until(demand) or horizon.everything,
            default_service_level=self.inputs.policy.default_service_level,
            service_levels=self.pars.service_levels,
            supplied_by=self.pars.supplied_by,
            only=only,
        )

    def considered(self, choices: Choices, levels: LevelPlan) -> Choices:
        """Pairs that may be bought and have a par row, usage, a booking or stock (R1)."""
        lots = (*self.inputs.kitchen.lots, *levels.aboard)
        held = ((lot.location, lot.item) for lot in lots)
        reason = {*self.pars.rows, *levels.draws, *held, *self.inputs.used_before}
        return {pair: offers for pair, offers in choices.items() if pair in reason}

    def shortage_costs(self, considered: Choices, demand: DemandPaths) -> dict[Pair, float]:
        """Money per base unit missed, of the pairs of which a margin is known (R10)."""
        if not self.inputs.sale_prices:
            return {}
        return shortage_costs(self.inputs, self.sourcing, considered, demand)

    def book(
        self,
        horizon: Horizon,
        demand: DemandPaths,
        levels: LevelPlan,
        costs: Mapping[Pair, float] | None = None,
    ) -> LineBook:
        """``costs``: of ``shortage_costs``, where they are at hand."""
        if costs is None:
            costs = self.shortage_costs(buyable(self.market, self.sourcing), demand)
        return LineBook.of(
            self.inputs,
            self.pars,
            levels,
            clock=self.clock,
            as_of=self.as_of,
            known_until=horizon.known_until(demand),
            paths=len(demand.weights),
            shortage_costs=costs,
        )

    def decisions(
        self,
        book: LineBook,
        considered: Choices,
        weights: Floats,
        decide: Decide = decide_lines,
    ) -> list[LineDecision]:
        """One of each pair, and where the settings say so a bridge until it comes (R13).
        ``decide``: cases by the basis of the par, unless a replay tries another rule."""

        def decided(lines: Sequence[Line]) -> list[LineDecision]:
            found = decide(lines, weights)
            return with_breaks(found, weights) if self.inputs.policy.price_breaks else found

        chosen = _one_per_pair(decided(book.lines(considered)))
        if not self.inputs.policy.bridge:
            return chosen
        return Bridges(book, self.market, weights, decided).added(chosen)

    def minimums(self, demand: DemandPaths) -> Minimums:
        limit = self.inputs.policy.waste_chance_limit
        return Minimums(demand.weights, limit, self.inputs.approved_value)


def _offers(inputs: ReorderInputs) -> tuple[Offer, ...]:
    """Price breaks count for nothing where the settings leave them out."""
    if inputs.policy.price_breaks:
        return inputs.offers
    return tuple(replace(offer, breaks=()) for offer in inputs.offers)


def _one_per_pair(decisions: Iterable[LineDecision]) -> list[LineDecision]:
    by_pair: dict[Pair, list[LineDecision]] = defaultdict(list)
    for decision in decisions:
        by_pair[decision.line.location, decision.line.item].append(decision)
    return [cheapest(found) for found in by_pair.values()]


def _not_needed(
    decisions: Iterable[LineDecision], orders: Iterable[DraftOrder]
) -> Iterator[LineLeftOut]:
    """Lines without cases, those that an order was topped up with left out."""
    ordered = {decision.line.key for order in orders for decision in order.lines}
    for decision in decisions:
        line = decision.line
        if line.key not in ordered:
            yield LineLeftOut(
                line.offer.supplier,
                line.location,
                line.item,
                line.offer.sku,
                line.slot,
                decision.reasons,
            )


def _without_delivery(considered: Choices) -> Iterator[LineLeftOut]:
    for (place, item), choices in considered.items():
        first = choices[0]
        if first.slot is None:
            offer = first.offer
            yield LineLeftOut(offer.supplier, place, item, offer.sku, problem=NO_DELIVERY)


def _made_but_on_sale(market: Market, sourcing: Sourcing) -> Iterator[LineLeftOut]:
    """Offers of items that are made are not ordered, but worth knowing of (R1)."""
    kitchen = sourcing.kitchen
    for item, recipe in sorted(kitchen.recipes.items()):
        place = recipe.made_at
        on_sale = place in kitchen.places and sourcing.is_made(item)
        for choice in market.choices(place, item) if on_sale else ():
            offer, slot = choice.offer, choice.slot
            yield LineLeftOut(offer.supplier, place, item, offer.sku, slot, problem=COULD_BE_BOUGHT)
