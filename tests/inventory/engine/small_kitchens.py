"""Small kitchens for tests of planning: short words for places, items, recipes and moments."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from inventory.engine.dates import BusinessClock
from inventory.engine.hours import WorkHours
from inventory.engine.kitchen import (
    Booking,
    Coming,
    Instant,
    Item,
    Kitchen,
    LoadOut,
    Place,
    Recipe,
    RecipeLine,
    StockLot,
    Stop,
)

CLOCK = BusinessClock("America/New_York")


def day(text: str) -> date:
    """``03-05`` of 2026."""
    return date.fromisoformat(f"2026-{text}")


def at(text: str) -> Instant:
    """``03-05 07:00`` of 2026, by the clock of the business."""
    moment = datetime.fromisoformat(f"2026-{text}")
    return CLOCK.instant(moment.date(), moment.time())


def said(moment: Instant) -> str:
    """The other way round."""
    return CLOCK.text(moment)[5:].replace("T", " ")


def hour(text: str | None) -> time | None:
    return None if text is None else time.fromisoformat(text)


def place(
    code: str,
    kind: str = "truck",
    *,
    by: str | None = None,
    hours: tuple[str | None, str | None] = (None, None),
    loads: str | None = None,
    closed: tuple[str, ...] = (),
) -> Place:
    return Place(
        code,
        kind,
        supplied_by=by,
        opens=hour(hours[0]),
        closes=hour(hours[1]),
        load_time=hour(loads),
        closed_on=frozenset(day(text) for text in closed),
    )


def hours_of(where: Place, as_of: str) -> WorkHours:
    return WorkHours(where, CLOCK, at(as_of))


def recipe(makes: str, quantity: float, lines: dict[str, float], **limits: Any) -> Recipe:
    """``lines``: drawn per ``quantity``; limits as the fields of Recipe, made at COM."""
    drawn = tuple(RecipeLine(item, qty) for item, qty in lines.items())
    return Recipe(makes, limits.pop("made_at", "COM"), quantity, drawn, **limits)


def stop(
    truck: str,
    on: str,
    opens: str | None = "11:00",
    closes: str | None = "15:00",
    *,
    cancelled: bool = False,
    site: str = "",
) -> Stop:
    key = f"{truck}/2026-{on}/{opens or ''}/{site}"
    return Stop(key, truck, day(on), hour(opens), hour(closes), site, cancelled=cancelled)


def lot(where: str, item: str, qty: float, use_by: str | None = None) -> StockLot:
    last_day = None if use_by is None else day(use_by)
    return StockLot(where, item, qty, last_day, None, f"{where}-{item}-{use_by}")


def coming(where: str, item: str, qty: float, on: str, arrives: str | None = None) -> Coming:
    return Coming(where, item, day(on), qty, None, hour(arrives))


def booking(where: str, on: str, item: str, qty: float) -> Booking:
    return Booking(where, day(on), item, qty)


def kitchen(
    places: list[Place],
    items: list[Item],
    recipes: list[Recipe],
    *,
    stops: list[Stop] | None = None,
    bookings: list[Booking] | None = None,
    lots: list[StockLot] | None = None,
    arrivals: list[Coming] | None = None,
    load_outs: list[LoadOut] | None = None,
) -> Kitchen:
    return Kitchen(
        places={one.code: one for one in places},
        items={one.code: one for one in items},
        recipes={one.makes: one for one in recipes},
        stops=tuple(stops or ()),
        bookings=tuple(bookings or ()),
        lots=tuple(lots or ()),
        coming=tuple(arrivals or ()),
        load_outs=tuple(load_outs or ()),
    )
