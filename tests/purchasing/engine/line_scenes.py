"""Lines to order in short words: days of March 2026, quantities in base units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import numpy as np

from inventory.engine.dates import BusinessClock
from inventory.engine.draws import NO_HOUR, DrawKey, Draws
from inventory.engine.kitchen import Coming, StockLot
from inventory.engine.projection import Floats, Lots
from purchasing.engine.inputs import Offer, Supplier
from purchasing.engine.lines import Held, Line, LineDecision, ParTerms
from purchasing.engine.quantities import decide_lines
from purchasing.engine.slots import Slot
from purchasing.engine.windows import Window

CLOCK = BusinessClock("America/New_York")
CERTAIN = np.ones(1)
Drawn = tuple[int, str | None, int, Any]  # day, hour, day of use, quantity


def march(day: int) -> date:
    """Day 32 is the first of April."""
    return date.fromordinal(date(2026, 3, 1).toordinal() + day - 1)


def at(day: int, hour: str) -> int:
    return CLOCK.instant(march(day), time.fromisoformat(hour))


AS_OF = at(2, "06:00")


def offer(pack: float = 10, price: str = "20", **more: Any) -> Offer:
    return Offer(
        supplier=more.pop("supplier", "S1"),
        item=more.pop("item", "LEEK"),
        sku=more.pop("sku", ""),
        pack_qty=Decimal(str(pack)),
        pack_unit="g",
        pack_base=float(pack),
        priced_per="case",
        priced_units=Decimal(1),
        prices=more.pop("prices", ((date.min, Decimal(price)),)),
        **more,
    )


def draws(rows: Iterable[Drawn], paths: int = 1) -> Draws:
    """Quantities are numbers, or one per path."""
    parts: list[tuple[DrawKey, Floats]] = []
    for on, hour, use, qty in rows:
        moment = NO_HOUR if hour is None else at(on, hour)
        values = np.broadcast_to(np.asarray(qty, dtype=float), (paths,))
        parts.append(((moment, march(on), march(use)), values))
    return Draws.merged(parts) if parts else Draws.none(paths)


def daily(use: Mapping[int, Any], paths: int = 1) -> Draws:
    """Usage without an hour by day."""
    return draws([(on, None, on, qty) for on, qty in use.items()], paths)


def lots(
    stock: Iterable[tuple[float, int | None]] = (),
    coming: Iterable[tuple[Any, ...]] = (),
    as_of: int = AS_OF,
) -> tuple[list[StockLot], list[Coming], Lots]:
    """``stock`` (qty, use-by); ``coming`` (day, qty, use-by[, hour])."""
    here = [
        StockLot("COM", "LEEK", qty, None if last is None else march(last), march(1), f"L{i}")
        for i, (qty, last) in enumerate(stock)
    ]
    ahead = [
        Coming(
            "COM",
            "LEEK",
            march(on),
            qty,
            None if last is None else march(last),
            time.fromisoformat(hour[0]) if hour else None,
        )
        for on, qty, last, *hour in coming
    ]
    return here, ahead, Lots.of(here, ahead, clock=CLOCK, as_of=as_of)


def line(
    drawn: Draws,
    *,
    stock: Iterable[tuple[float, int | None]] = (),
    coming: Iterable[tuple[Any, ...]] = (),
    between: tuple[int, int] = (4, 7),
    arrives: str | None = None,
    basis: str = "forecast",
    par: float | None = None,
    level: float = 0.95,
    as_of: int = AS_OF,
    sold: Offer | None = None,
    **more: Any,
) -> Line:
    """``between`` D1 and D2; ``arrives`` the supplier's hour."""
    slot = Slot(as_of, march(between[0]), march(between[1]), as_of)
    hour = None if arrives is None else time.fromisoformat(arrives)
    supplier = Supplier("S1", frozenset(), time(14), 0, frozenset(), arrives=hour)
    here, ahead, shelf = lots(stock, coming, as_of)
    sold = sold or offer()
    return Line(
        location="COM",
        item=sold.item,
        offer=sold,
        slot=slot,
        window=Window.of(slot, supplier, clock=CLOCK, as_of=as_of),
        terms=ParTerms(basis, par, level),
        held=Held.of(here, ahead, slot),
        lots=shelf,
        draws=drawn,
        **more,
    )


def decided(one: Line, weights: Floats = CERTAIN) -> LineDecision:
    return decide_lines([one], weights)[0]


def said(moment: int) -> datetime:
    return CLOCK.local(moment)
