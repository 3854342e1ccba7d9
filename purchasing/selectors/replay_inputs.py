"""What a replay is given: all that a run on its first day would read, and what was used."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cache

from django.db.models import Min

from inventory.engine.kitchen import Kitchen
from inventory.engine.recipes import as_purchased, low_level_codes
from inventory.engine.sourcing import Sourcing
from inventory.models import Lot as StoredLot
from inventory.models import OnHand, RecipeLine, Sale, Usage
from inventory.problems import Problem, Refused
from inventory.selectors.business import Business, business
from inventory.selectors.demand_inputs import history_before
from inventory.selectors.measures import Measures, sale_prices
from inventory.selectors.on_hand import usable_rows
from purchasing.engine.inputs import ReorderInputs
from purchasing.engine.missed import Cost, Margins
from purchasing.engine.pars import ParBook
from purchasing.engine.policies import MEAN_DAYS
from purchasing.engine.real_use import RealUse, Takes, UseRow
from purchasing.engine.replay_inputs import (
    Billionths,
    Lot,
    Pair,
    ReplayInputs,
    ReplayLine,
    Sold,
    billionths,
    first_rank_cost,
)
from purchasing.models import Offer, OrderLine
from purchasing.selectors import supply
from purchasing.selectors.on_order import committed_value
from purchasing.selectors.reorder_inputs import reorder_inputs
from purchasing.selectors.replay_orders import came_since, on_its_way, open_at, recorded

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class ReplayGathered:
    given: ReplayInputs
    measures: Measures
    house: Business


def replay_inputs(first: date, last: date) -> ReplayGathered:
    """Everything a replay of ``first`` to ``last`` needs, in a fixed number of queries. Call
    it inside ``snapshot.one_snapshot``. Raises ``Refused`` for days that cannot be replayed."""
    house = business()
    began = check_days(first, last)
    midnight = _midnight(house, first)
    gathered = reorder_inputs(midnight)
    measures = gathered.measures
    known = _known(gathered.inputs, last, measures)
    use = _real_use(known, measures, first - timedelta(days=MEAN_DAYS), last)
    orders, since = list(open_at(midnight, first)), came_since(midnight)
    end = last + ONE_DAY
    lines = _Lines(known, measures, house, use, first, last, midnight).lines(orders)
    kept = [row for row in orders if (row.order.location.code, row.item.code) in lines]
    given = ReplayInputs(
        first=first,
        last=last,
        began=began,
        known=replace(known, approved_value=committed_value(kept)),
        lines=tuple(lines[pair] for pair in sorted(lines)),
        open_orders=tuple(on_its_way(row, since.get(row.pk, Decimal(0))) for row in kept),
        recorded=recorded(lines, known.suppliers, house, (midnight, _midnight(house, end))),
        holding_rate=Fraction(house.holding_rate_per_year),
    )
    return ReplayGathered(given, measures, house)


def _midnight(house: Business, day: date) -> datetime:
    return datetime.fromtimestamp(house.clock.instant(day, time.min), UTC)


def check_days(first: date, last: date) -> date:
    """The first day on record. Raises ``Refused`` with what is wrong of the days asked for."""
    if first > last:
        message = (
            f"The first day, {first}, comes after the last, {last}. Give the earlier day first."
        )
        raise Refused(Problem("days_backwards", message, "from"))
    used = Usage.objects.aggregate(day=Min("date"))["day"]
    sold = Sale.objects.aggregate(day=Min("date"))["day"]
    began: date | None = min((day for day in (used, sold) if day is not None), default=None)
    if began is None:
        message = "Nothing was ever sold or used here, so there is nothing to replay. Load sales."
        raise Refused(Problem("nothing_used", message, "from"))
    if first < began:
        message = (
            f"The first day, {first}, comes before the first usage on record. Start on {began}."
        )
        raise Refused(Problem("before_first_usage", message, "from"))
    return began


def _known(inputs: ReorderInputs, last: date, measures: Measures) -> ReorderInputs:
    """As a run reads it, with all rows of the days replayed and without any stock or order: a
    replay has its own, at places that buy."""
    kitchen = replace(inputs.kitchen, lots=(), coming=(), load_outs=())
    history = history_before(last + ONE_DAY, measures)
    return replace(inputs, kitchen=kitchen, history=history, used_today={}, approved_value={})


def _real_use(known: ReorderInputs, measures: Measures, first: date, last: date) -> RealUse:
    low_level_codes(known.kitchen.recipes)  # refuses a cycle by name
    pars = ParBook.of(known.pars, known.policy.default_service_level)
    sourcing = Sourcing(known.kitchen, pars.supplied_by)
    return RealUse(sourcing, _takes(known.kitchen, measures)).add(_use_rows(measures, first, last))


def _takes(kitchen: Kitchen, measures: Measures) -> Takes:
    """What one base unit of everything that has a recipe draws, exactly."""
    lines: dict[str, list[tuple[str, Fraction]]] = {made: [] for made in kitchen.recipes}
    rows = RecipeLine.objects.select_related("recipe__item", "item").order_by("recipe", "position")
    for row in rows:
        made, recipe = row.recipe.item.code, row.recipe
        makes = measures.base_quantity(made, recipe.makes_qty, recipe.makes_unit)
        usable = measures.base_quantity(row.item.code, row.qty, row.unit)
        drawn = as_purchased(usable, row.yield_pct) / makes
        lines[made].append((row.item.code, drawn))
    return {made: tuple(found) for made, found in lines.items()}


def _use_rows(measures: Measures, first: date, last: date) -> Iterator[UseRow]:
    sold = Sale.objects.filter(date__range=(first, last)).order_by("pk")
    for place, item, day, qty in sold.values_list("location__code", "item__code", "date", "qty"):
        yield UseRow(place, item, day, measures.base_quantity(item, qty, measures.own_unit(item)))
    used = Usage.objects.filter(date__range=(first, last)).order_by("pk")
    columns = ("location__code", "item__code", "date", "qty", "unit")
    for place, item, day, qty, unit in used.values_list(*columns):
        yield UseRow(place, item, day, measures.base_quantity(item, qty, unit))


@dataclass(frozen=True, slots=True)
class _Lines:
    """The lines of R1, seen over the days replayed."""

    known: ReorderInputs
    measures: Measures
    house: Business
    use: RealUse
    first: date
    last: date
    midnight: datetime

    def lines(self, orders: Iterable[OrderLine]) -> dict[Pair, ReplayLine]:
        sold, stock = self._sold(), self._stock()
        ordered = {(row.order.location.code, row.item.code) for row in orders}
        wanted = {*stock, *ordered, *self._with_reason()}
        bought = sorted(pair for pair in wanted if pair[1] in sold and self._buys(pair))
        cost = cache(lambda pair, day: first_rank_cost(sold.get(pair[1], ()), day))
        margins = self._margins(cost)
        return {
            pair: self._line(pair, sold[pair[1]], stock.get(pair, ()), margins) for pair in bought
        }

    def _with_reason(self) -> Iterator[Pair]:
        """Par rows, usage of any day, bookings; what bookings take counts where it is bought."""
        yield from ((row.location, row.item) for row in self.known.pars)
        yield from self.use.total
        history = self.known.history
        for frame in (history.usage, history.sales):
            for place, item in set(zip(frame["location"], frame["item"], strict=True)):
                yield from self.use.bought_for(place, item)
        for booking in self.known.kitchen.bookings:
            yield from self.use.bought_for(booking.location, booking.item)

    def _buys(self, pair: Pair) -> bool:
        place, item = pair
        sourcing = self.use.sourcing
        return not sourcing.is_made(item) and sourcing.source(place, item) is None

    def _sold(self) -> dict[str, tuple[Sold, ...]]:
        """Offers that are in force on any of the days, by item."""
        cases = _case_sizes(self.measures)
        found: dict[str, list[Sold]] = defaultdict(list)
        for offer in self.known.offers:
            found[offer.item].append(Sold(offer, cases[offer.supplier, offer.item, offer.sku]))
        return {
            item: tuple(offers)
            for item, offers in found.items()
            if any(one.offer.price_on(self.last) is not None for one in offers)
        }

    def _line(
        self,
        pair: Pair,
        offers: tuple[Sold, ...],
        stock: Iterable[tuple[OnHand, Decimal]],
        margins: Margins,
    ) -> ReplayLine:
        use = self.use.total.get(pair, {})
        days = [self.first + timedelta(days=n) for n in range((self.last - self.first).days + 1)]
        # A lot of unknown cost is taken at the offer's price in force on the first day.
        usual = first_rank_cost(offers, self.first) or Fraction(0)
        return ReplayLine(
            location=pair[0],
            item=pair[1],
            life=self.known.kitchen.items[pair[1]].shelf_life_days,
            offers=offers,
            use={day: billionths(qty) for day, qty in use.items()},
            opening=tuple(_lot(row.lot, qty, usual) for row, qty in stock),
            shortage_cost={day: margins.shortage_cost(pair, [day]) for day in days},
        )

    def _stock(self) -> dict[Pair, list[tuple[OnHand, Decimal]]]:
        found: dict[Pair, list[tuple[OnHand, Decimal]]] = defaultdict(list)
        for row, qty in usable_rows(self.midnight, self.first):
            found[row.location.code, row.item.code].append((row, qty))
        return found

    def _margins(self, cost: Cost) -> Margins:
        items = self.known.kitchen.items.values()
        return Margins(
            price=sale_prices(self.measures),
            left_off=frozenset(item.code for item in items if item.can_be_left_off),
            cost=cost,
            leave_share=Fraction(self.house.leave_share),
            use=self.use,
        )


def _lot(lot: StoredLot, qty: Decimal, usual: Fraction) -> Lot:
    cost = usual if lot.unit_cost is None else Fraction(lot.unit_cost)
    return Lot(billionths(Fraction(qty)), lot.use_by, lot.received_on, lot.strip, cost)


def _case_sizes(measures: Measures) -> dict[tuple[str, str, str], Billionths]:
    """What a case of each offer holds, by supplier, item and SKU."""
    rows = Offer.objects.filter(retired_on__isnull=True).select_related("supplier", "item")
    return {
        (row.supplier.code, row.item.code, row.sku): billionths(supply.case_base(row, measures))
        for row in rows
    }
