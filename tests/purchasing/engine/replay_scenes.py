"""Days to replay in short words: places that buy directly, days of March 2026 (``march``)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, time, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pandas as pd

from inventory.engine.demand.history import History
from inventory.engine.kitchen import Item, Kitchen, Place
from purchasing.engine.inputs import Offer, ParRule, Policy, ReorderInputs, Supplier
from purchasing.engine.policies import POLICIES
from purchasing.engine.replay import PolicyReplay, replay
from purchasing.engine.replay_inputs import ONE, Arrival, Lot, Pair, ReplayInputs, ReplayLine, Sold
from tests.purchasing.engine.line_scenes import march, offer

ZONE = "America/New_York"
EVERY_DAY = frozenset(range(7))
DAILY = Supplier("S1", EVERY_DAY, time(14), 1, EVERY_DAY)
Use = Mapping[Pair, Mapping[date, float]]


def certain(first: int, last: int, qty: float) -> dict[date, float]:
    """The same use on each day of March from ``first`` to ``last``; days before 1 are of
    earlier months."""
    return {march(on): qty for on in range(first, last + 1)}


def drawn(seed: int, mean: float, first: int, last: int) -> dict[date, float]:
    """Counts that vary by day and weekday."""
    rng = np.random.default_rng(seed)
    days = [march(on) for on in range(first, last + 1)]
    return {day: float(rng.poisson(mean * (1 + 0.1 * day.weekday()))) for day in days}


def history(use: Use) -> History:
    rows = [
        (place, item, pd.Timestamp(day), qty)
        for (place, item), by_day in use.items()
        for day, qty in by_day.items()
    ]
    frame = pd.DataFrame(rows, columns=["location", "item", "day", "qty"])
    frame["day"] = pd.to_datetime(frame["day"])
    return replace(History.empty(), usage=frame.astype({"qty": float}))


def given(
    use: Use,
    items: Iterable[Item],
    offers: Iterable[Offer],
    *,
    days: tuple[int, int],
    suppliers: Iterable[Supplier] = (DAILY,),
    pars: Iterable[ParRule] = (),
    opening: Mapping[Pair, tuple[Lot, ...]] | None = None,
    margin: float | None = 1.0,
    rate: str = "0.2",
    paths: int = 100,
    open_orders: tuple[Arrival, ...] = (),
    **more: Any,
) -> ReplayInputs:
    """``margin``: what a base unit missed costs."""
    known = {item.code: item for item in items}
    sold = tuple(offers)
    places = {place: Place(place, "kitchen") for place, _ in sorted(use)}
    first, last = march(days[0]), march(days[1])
    window = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    cost = None if margin is None else Fraction(str(margin))
    lines = tuple(
        ReplayLine(
            location=place,
            item=item,
            life=known[item].shelf_life_days,
            offers=tuple(Sold(one, round(one.pack_base * ONE)) for one in sold if one.item == item),
            use={day: round(qty * ONE) for day, qty in use[place, item].items()},
            opening=(opening or {}).get((place, item), ()),
            shortage_cost=dict.fromkeys(window, cost),
        )
        for place, item in sorted(use)
    )
    inputs = ReorderInputs(
        kitchen=Kitchen(places, known, {}, (), (), (), ()),
        history=history(use),
        suppliers={one.code: one for one in suppliers},
        offers=sold,
        pars=tuple(pars),
        policy=Policy(ZONE, paths=paths, holding_rate_per_year=float(rate)),
        approved_value=more.pop("approved_value", {}),
        sale_prices=dict.fromkeys(known, price) if (price := more.pop("sale_price", 0.0)) else {},
    )
    began = min(day for by_day in use.values() for day in by_day)
    return ReplayInputs(
        first, last, began, inputs, lines, open_orders, holding_rate=Fraction(rate), **more
    )


def lot(qty: float, use_by: int | None = None, cost: str = "2", strip: str = "AAAAA") -> Lot:
    last = None if use_by is None else march(use_by)
    return Lot(round(qty * ONE), last, march(1), strip, Fraction(cost))


def run(asked: ReplayInputs, *names: str, **more: Any) -> tuple[PolicyReplay, ...]:
    return replay(asked, [POLICIES[name] for name in names], seed=more.pop("seed", 1), **more)


def figures(done: PolicyReplay, column: str, pair: Pair | None = None) -> list[float]:
    """A column of the daily rows of one line, in base units."""
    shelf = next(one for one in done.shelves if pair in (None, one.line.pair))
    return [float(getattr(row, column)) / ONE for row in shelf.rows]


def placed(done: PolicyReplay) -> list[tuple[date, str, int, date]]:
    """Day placed, item, cases, delivery."""
    return [(one.placed, one.item, int(one.cases), one.day) for one in done.placed if one.placed]


LEEK = Item("LEEK", "resale", "each", shelf_life_days=2)
RICE = Item("RICE", "resale", "each")
LEEKS, BAGS = offer(10, "20", item="LEEK"), offer(25, "50", item="RICE")
TWO_LINES: dict[Pair, dict[date, float]] = {
    ("BAR", "LEEK"): drawn(1, 12, -80, 20),
    ("COM", "LEEK"): drawn(2, 30, -80, 20),
    ("COM", "RICE"): drawn(3, 20, -80, 20),
}
PARS = (
    ParRule("COM", "LEEK", None, 80.0, "fixed"),
    ParRule("COM", "RICE", None, 90.0, "greater", 0.9),
    ParRule("BAR", "LEEK", None, None, "forecast", 0.9),
)


def busy(use: Use = TWO_LINES, **more: Any) -> ReplayInputs:
    """Three lines at two places, two weeks, daily deliveries for LEEK and three for RICE."""
    supplier = Supplier("S2", frozenset({0, 2, 4}), time(11), 1, frozenset({1, 3, 5}))
    usual: dict[str, Any] = {
        "days": (2, 15),
        "suppliers": (DAILY, supplier),
        "pars": PARS,
        "opening": {("COM", "LEEK"): (lot(25, 3),), ("COM", "RICE"): (lot(60),)},
    }
    bags = replace(BAGS, supplier="S2")
    return given(use, [LEEK, RICE], [LEEKS, bags], **{**usual, **more})


def minimum(value: str, **more: Any) -> Supplier:
    return replace(DAILY, minimum_order=Decimal(value), **more)
