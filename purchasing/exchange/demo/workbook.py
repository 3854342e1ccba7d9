"""All sheets of the scenario, as of a moment."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from purchasing.exchange.demo.cards import line_rows, recipe_row
from purchasing.exchange.demo.catalogue import item_rows
from purchasing.exchange.demo.cover import covered
from purchasing.exchange.demo.deliveries import calendars, closure_rows
from purchasing.exchange.demo.dishes import DISH_CARDS, DISHES, menu_rows
from purchasing.exchange.demo.ingredients import DRINKS, ITEM_UNITS
from purchasing.exchange.demo.measures import Measures
from purchasing.exchange.demo.orders import Book
from purchasing.exchange.demo.pace import costs, pace, rhythm, wanted_on
from purchasing.exchange.demo.pars import fixed_pars, par_rows
from purchasing.exchange.demo.places import (
    COMMISSARY,
    LOCATIONS,
    SETTINGS,
    STORAGE_AREAS,
    ZONE,
    closed_days,
)
from purchasing.exchange.demo.preps import PREP_CARDS
from purchasing.exchange.demo.sales import Sold, sale_rows, sold_before
from purchasing.exchange.demo.stock import Larder
from purchasing.exchange.demo.stops import Service, booking_rows, services, stop_rows
from purchasing.exchange.demo.suppliers import PRICE_BREAKS, offer_rows, supplier_rows
from purchasing.exchange.demo.table import Row
from purchasing.exchange.demo.usage import Used, usage_rows, used_before

Sheets = dict[str, list[Row]]

SEED = 20
CARDS = PREP_CARDS + DISH_CARDS


def demo_workbook(as_of: datetime) -> Sheets:
    """Sheet name to rows, cells as text, as workbook.md has them.

    ``as_of`` is a moment; without a zone it is business time. History ends on the day
    before it, stops and bookings go on for three weeks after it.
    """
    zone = ZoneInfo(ZONE)
    now = as_of.astimezone(zone) if as_of.tzinfo else as_of.replace(tzinfo=zone)
    today = now.date()
    found = services(today)
    # a stream for each kind of draw, so that one more row in a list moves no other list
    past, hands, shelf, calls = (np.random.default_rng([SEED, n]) for n in range(4))
    prices = {row["code"]: float(row["price"]) for row in DISHES + DRINKS}
    sold = list(sold_before(today, found, {row["code"] for row in DISHES}, past))
    used = used_before(today, found, hands)
    sheets = {
        **_what_stands_still(today),
        "stops": stop_rows(found),
        "sales": sale_rows(sold, prices),
        "bookings": booking_rows(today),
        "usage": usage_rows(used),
        **_what_moves(now, found, sold, used, (shelf, calls)),
    }
    # rows of their own: a caller may change what it gets
    return {sheet: [dict(row) for row in rows] for sheet, rows in sheets.items()}


def _what_stands_still(today: date) -> Sheets:
    return {
        "settings": SETTINGS,
        "locations": LOCATIONS,
        "location_closures": closed_days(today),
        "storage_areas": STORAGE_AREAS,
        "items": item_rows(),
        "item_units": ITEM_UNITS,
        "menu": menu_rows(today),
        "suppliers": supplier_rows(),
        "supplier_closures": closure_rows(today),
        "supplier_items": offer_rows(today),
        "price_breaks": PRICE_BREAKS,
        "recipes": [recipe_row(card) for card in CARDS],
        "recipe_lines": [row for card in CARDS for row in line_rows(card)],
    }


def _what_moves(
    now: datetime,
    found: list[Service],
    sold: list[Sold],
    used: list[Used],
    streams: tuple[np.random.Generator, np.random.Generator],
) -> Sheets:
    """Pars, stock and open orders, at the pace at which things have been going."""
    today, shelf, calls = now.date(), *streams
    measures = Measures.of(item_rows(), ITEM_UNITS)
    going = pace(today, sold, used, CARDS, measures)
    offers = offer_rows(today)
    first = _first_choices(offers, measures)
    fixed = fixed_pars(going, first, measures)
    dates, busy = calendars(now), rhythm(now.date(), found)
    larder = Larder(
        today=today,
        measures=measures,
        pace=going,
        wanted=wanted_on(today, found, CARDS, measures),
        fixed=fixed,
        first=first,
        costs=costs(offers, CARDS, measures),
        calendars=dates,
        rhythm=busy,
        stops=Counter(one.location for one in found if 0 < (today - one.day).days <= 28),
        rng=shelf,
    )
    stock = larder.rows()
    on_hand = _on_hand(stock)
    book = Book(measures, going, busy, fixed, first, dates, on_hand, calls)
    orders = book.rows()
    return {
        "pars": par_rows(fixed, going, first, measures),
        "stock": covered(stock, orders, larder),
        "open_orders": orders,
    }


def _first_choices(offers: list[Row], measures: Measures) -> dict[str, Row]:
    """By item; what has a recipe is made, not bought."""
    return {
        offer["item"]: offer
        for offer in offers
        if offer["rank"] == "1" and measures.items[offer["item"]]["kind"] != "prep"
    }


def _on_hand(stock: list[Row]) -> dict[str, float]:
    """At the commissary, in each item's own unit."""
    on_hand: dict[str, float] = {}
    for lot in stock:
        if lot["location"] == COMMISSARY:
            on_hand[lot["item"]] = on_hand.get(lot["item"], 0.0) + float(lot["qty"])
    return on_hand
