"""Raw usage of random kitchens against the brute-force plan of ``tests.oracle`` (rules R12)."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pytest

from inventory.engine.dates import BusinessClock
from inventory.engine.demand.paths import DemandPaths
from inventory.engine.draws import NO_HOUR
from inventory.engine.kitchen import (
    Booking,
    Item,
    Kitchen,
    Place,
    Recipe,
    RecipeLine,
    StockLot,
    Stop,
)
from purchasing.engine.levels import plan_levels
from tests.inventory.engine.small_kitchens import day
from tests.oracle import prep
from tests.oracle.book import Book, read_book
from tests.oracle.nested_kitchens import NestedSize, nested_kitchen

LARGE = NestedSize(raws=80, preps=30, dishes=20, trucks=5, suppliers=2, days=14)

# Item, moment (NO_HOUR without one), day on which it counts, day of use.
Usage = dict[tuple[str, int, int, int], float]


@pytest.mark.parametrize("seed", range(25))
def test_raw_usage_of_random_kitchens_is_the_brute_force_answer(seed: int) -> None:
    compare(seed, NestedSize(suppliers=2))


@pytest.mark.parametrize("seed", range(100, 104))
def test_raw_usage_of_large_random_kitchens_is_the_brute_force_answer(seed: int) -> None:
    compare(seed, LARGE)


def compare(seed: int, size: NestedSize) -> None:
    sheets, as_of = nested_kitchen(seed, size)
    book = read_book(sheets)
    moment = book.clock.read(as_of)
    expected = brute_force(book, moment)
    assert expected
    assert planned(book, moment) == pytest.approx(expected, rel=1e-9, abs=1e-6)


def brute_force(book: Book, as_of: int) -> Usage:
    """What is still to be drawn today is drawn from ``as_of`` on, whatever its hour was."""
    usage: Usage = defaultdict(float)
    drawn = prep.Kitchen(book, book.places["COM"], as_of).plan().draws
    for item, draws in drawn.items():
        for one in draws:
            at = NO_HOUR if one.moment is None else max(as_of, one.moment)
            usage[item, at, one.day.toordinal(), one.day_of_use.toordinal()] += float(one.qty)
    return dict(usage)


def planned(book: Book, as_of: int) -> Usage:
    clock = BusinessClock(book.clock.zone.key)
    demand = DemandPaths(np.ones(1), clock.day_of(as_of), {}, {})
    result = plan_levels(
        kitchen_of(book, as_of),
        demand,
        clock=clock,
        as_of=as_of,
        until=day("12-31").replace(year=2027),
        default_service_level=0.95,
    )
    return {
        (item, int(moment), int(counts), int(used)): float(qty[0])
        for (_, item), draws in result.draws.items()
        for moment, counts, used, qty in zip(
            draws.moment, draws.day, draws.day_of_use, draws.qty, strict=True
        )
    }


def kitchen_of(book: Book, as_of: int) -> Kitchen:
    today = book.clock.day_of(as_of)
    usable = [
        row
        for row in book.stock
        if not row.on_hold
        and (row.received is None or row.received <= today)
        and (row.use_by is None or row.use_by >= today)
    ]
    return Kitchen(
        places={code: place_of(book, code) for code in book.places},
        items={code: item_of(book, code) for code in book.items},
        recipes={code: recipe_of(book, code) for code in book.recipes},
        stops=tuple(
            Stop(f"{row.place}/{row.day}/{row.opens}", row.place, row.day, row.opens, row.closes,
                 cancelled=row.cancelled)
            for row in book.stops
        ),
        bookings=tuple(
            Booking(row.place, row.day, row.item, float(row.qty))
            for row in book.bookings
            if row.confirmed
        ),
        lots=tuple(
            StockLot(row.place, row.item, float(row.qty), row.use_by, row.received, str(number))
            for number, row in enumerate(usable)
        ),
        coming=(),
    )  # fmt: skip


def place_of(book: Book, code: str) -> Place:
    row = book.places[code]
    return Place(
        code,
        row.kind,
        supplied_by=row.supplied_by or None,
        closed_on=row.shut_on,
        opens=row.opens,
        closes=row.closes,
        load_time=row.load_time,
    )


def item_of(book: Book, code: str) -> Item:
    row = book.items[code]
    return Item(
        code,
        row.kind,
        row.measure.base,
        shelf_life_days=row.life,
        on_return=row.on_return,
        tcs=row.tcs,
        ready_to_eat=row.ready_to_eat,
        stored_frozen=row.storage == "frozen",
        thaw_hours=None if row.thaw_hours is None else float(row.thaw_hours),
    )


def recipe_of(book: Book, code: str) -> Recipe:
    row = book.recipes[code]
    return Recipe(
        code,
        row.made_at or "COM",
        1.0,
        tuple(RecipeLine(item, float(drawn)) for item, drawn in row.lines),
        batch_min=None if row.smallest is None else float(row.smallest),
        batch_max=None if row.largest is None else float(row.largest),
        batch_minutes=row.minutes,
        lead_hours=row.hands_off_seconds / 3600,
    )
