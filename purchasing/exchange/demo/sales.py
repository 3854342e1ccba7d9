"""120 days of what guests took, from a seeded generator.

Guests of a service are a Poisson count about a gamma-distributed turnout (a negative
binomial), whose mean has a level, a season, the day's weather and the event; one turnout is
shared by all dishes of the service. Dishes divide the guests by shares that wander from day
to day; drinks are taken beside. A dish that runs out is sold up to what was loaded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from purchasing.exchange.demo.dishes import price_of, shares_on
from purchasing.exchange.demo.places import COUNTER, COUNTER_SHUT_AGO
from purchasing.exchange.demo.stops import EVENT_FACTOR, PAST_DAYS, Service
from purchasing.exchange.demo.table import Row

TURNOUT_SPREAD = 0.025  # squared coefficient of variation beyond Poisson
STEADINESS = 220.0  # Dirichlet weight of a day's shares
LOADED = 1.45  # portions loaded for each portion of an ordinary day
GROWTH = 0.0012  # a day
COUNTER_GUESTS = (84, 88, 92, 104, 138, 152, 110)  # Monday to Sunday

Rng = np.random.Generator


@dataclass(frozen=True, slots=True)
class Weather:
    """``mood`` (D,) by day: below nought wet, above it fine; days hang together."""

    first: date
    mood: npt.NDArray[np.float64]

    @classmethod
    def drawn(cls, first: date, days: int, rng: Rng) -> Weather:
        mood = np.zeros(days)
        shocks = rng.standard_normal(days)
        for n in range(days):
            mood[n] = (0.55 * mood[n - 1] if n else 0.0) + 0.85 * shocks[n]
        return cls(first, mood)

    def outdoors(self, day: date) -> float:
        """Rain keeps a quarter of the guests of a truck away; a fine day brings an eighth."""
        mood = float(self.mood[(day - self.first).days])
        return 0.74 if mood < -1.0 else 1.12 if mood > 1.0 else 1.0

    def indoors(self, day: date) -> float:
        return 1.1 if self.outdoors(day) < 1.0 else 1.0


@dataclass(frozen=True, slots=True)
class Sold:
    """One service's sales of one item. ``ran_out`` is the share of the opening hours after
    which it was gone, None if it lasted."""

    location: str
    day: date
    item: str
    qty: int
    site: str = ""
    opens: str = ""
    closes: str = ""
    ran_out: float | None = None


def sold_before(today: date, services: list[Service], dishes: set[str], rng: Rng) -> Iterator[Sold]:
    """Sales of every service held and every day of the counter before ``today``."""
    first = today - timedelta(days=PAST_DAYS)
    weather = Weather.drawn(first, PAST_DAYS, rng)
    shut = today - timedelta(days=COUNTER_SHUT_AGO)
    for n in range(PAST_DAYS):
        day = first + timedelta(days=n)
        season = 1.0 + GROWTH * (n - PAST_DAYS)
        for one in services:
            if one.day == day and not one.cancelled:
                mean = one.covers * EVENT_FACTOR[one.event] * season * weather.outdoors(day)
                yield from _service(one, mean, (today - day).days, dishes, rng)
        if day != shut:
            mean = COUNTER_GUESTS[day.weekday()] * season * weather.indoors(day)
            yield from _counter(day, mean, (today - day).days, dishes, rng)


def _service(
    one: Service, mean: float, days_ago: int, dishes: set[str], rng: Rng
) -> Iterator[Sold]:
    offered = shares_on(one.location, one.site, days_ago)
    ordinary = one.covers * EVENT_FACTOR[one.event]
    for item, wanted in _taken(offered, mean, dishes, rng).items():
        loaded = int(np.ceil(LOADED * offered[item] * ordinary)) if item in dishes else wanted
        qty = min(wanted, loaded)
        gone = loaded / wanted if wanted > loaded else None
        opens, closes = one.plan["opens"], one.plan["closes"]
        yield Sold(one.location, one.day, item, qty, one.site, opens, closes, gone)


def _counter(day: date, mean: float, days_ago: int, dishes: set[str], rng: Rng) -> Iterator[Sold]:
    offered = shares_on(COUNTER, "", days_ago)
    for item, qty in _taken(offered, mean, dishes, rng).items():
        yield Sold(COUNTER, day, item, qty)


def _taken(offered: dict[str, float], mean: float, dishes: set[str], rng: Rng) -> dict[str, int]:
    """Portions of each item that the guests of one service want."""
    guests = int(rng.poisson(mean * rng.gamma(1 / TURNOUT_SPREAD, TURNOUT_SPREAD)))
    plates = [item for item in offered if item in dishes]
    share = np.array([offered[item] for item in plates])
    today = rng.dirichlet(STEADINESS * share / share.sum())
    taken = dict(zip(plates, rng.multinomial(guests, today).tolist(), strict=True))
    beside = [item for item in offered if item not in dishes]
    return taken | {item: int(rng.binomial(guests, offered[item])) for item in beside}


def sale_rows(sold: list[Sold], prices: dict[str, float]) -> list[Row]:
    """Rows of the sales sheet; what nobody took is no row."""
    return [_row(one, prices) for one in sold if one.qty]


def _row(one: Sold, prices: dict[str, float]) -> Row:
    return {
        "location": one.location,
        "date": str(one.day),
        "item": one.item,
        "qty": str(one.qty),
        "site": one.site,
        "opens": one.opens,
        "net_amount": f"{one.qty * price_of(one.location, one.item, prices):.2f}",
        "sold_out_at": _hour(one),
    }


def _hour(one: Sold) -> str:
    """To the five minutes in which somebody looked at the clock."""
    if one.ran_out is None:
        return ""
    opens, closes = _minutes(one.opens), _minutes(one.closes)
    at = opens + int(one.ran_out * (closes - opens) / 5) * 5
    return f"{at // 60:02}:{at % 60:02}"


def _minutes(hour: str) -> int:
    hours, minutes = hour.split(":")
    return int(hours) * 60 + int(minutes)
