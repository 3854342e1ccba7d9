"""All inputs of a reorder run, in a fixed number of queries.

``as_of`` replaces the clock: what happened, was put on hold or was approved later does not
count (rules R3, R4). Rows leave the database in a stable order, so the same data give the
same inputs to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings

from inventory.engine.dates import BusinessClock
from inventory.engine.kitchen import Kitchen
from inventory.selectors import kitchen, stops, transfers
from inventory.selectors.business import Business, business
from inventory.selectors.demand_inputs import history_before, used_on
from inventory.selectors.measures import Measures, item_measures, sale_prices
from inventory.selectors.on_hand import usable_stock
from purchasing.engine.inputs import Policy, ReorderInputs
from purchasing.selectors import on_order, supply


@dataclass(frozen=True, slots=True)
class Gathered:
    """Inputs, and what must still be true of the orders when the drafts are written."""

    inputs: ReorderInputs
    measures: Measures
    orders_digest: str


def reorder_inputs(as_of: datetime) -> Gathered:
    """Everything a run needs. Call it inside ``snapshot.one_snapshot``."""
    digest = on_order.orders_digest()
    house = business()
    today = BusinessClock(house.time_zone).day_of(int(as_of.timestamp()))
    measures = item_measures(supply.case_sizes())
    places = kitchen.places()
    suppliers = supply.suppliers()
    lines = list(on_order.lines_on_order(as_of))
    history = history_before(today, measures)
    used = zip(history.usage["location"], history.usage["item"], strict=True)
    return Gathered(
        ReorderInputs(
            kitchen=Kitchen(
                places=places,
                items=kitchen.items(measures),
                recipes=kitchen.recipes(measures, kitchen.commissary_of(places)),
                stops=stops.stops_from(today),
                bookings=stops.bookings_from(today, measures),
                lots=usable_stock(as_of, today),
                coming=on_order.coming_orders(lines, suppliers, places, today)
                + transfers.coming(today),
                menus=kitchen.menus(),
                load_outs=transfers.load_outs_from(today),
            ),
            history=history,
            suppliers=suppliers,
            offers=supply.offers(measures),
            pars=supply.pars(measures),
            policy=_policy(house),
            approved_value=on_order.committed_value(lines),
            used_today=used_on(today, measures),
            used_before=frozenset(used),
            sale_prices={item: float(price) for item, price in sale_prices(measures).items()},
        ),
        measures,
        digest,
    )


def _policy(house: Business) -> Policy:
    return Policy(
        time_zone=house.time_zone,
        default_service_level=float(house.default_service_level),
        holding_rate_per_year=float(house.holding_rate_per_year),
        leave_share=float(house.leave_share),
        paths=settings.REORDER_PATHS,
        bridge=settings.REORDER_BRIDGE,
        price_breaks=settings.REORDER_PRICE_BREAKS,
    )
