"""Small kitchens and histories for the tests of demand."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time, timedelta

import numpy as np
import pandas as pd

from inventory.engine.demand.history import SALES_COLUMNS, USAGE_COLUMNS, History
from inventory.engine.demand.paths import DemandPaths, demand_paths
from inventory.engine.kitchen import Item, Kitchen, MenuSpan, Place, Stop

T = date(2026, 3, 2)  # a Monday


def kitchen(
    *, stops: tuple[Stop, ...] = (), menus: Mapping[str, tuple[MenuSpan, ...]] | None = None
) -> Kitchen:
    """A commissary, a restaurant and two trucks; soup, stew and buns are dishes."""
    places = [
        Place("COM", "commissary"),
        Place("REST", "kitchen"),
        Place("VAN1", "truck", supplied_by="COM"),
        Place("VAN2", "truck", supplied_by="COM"),
    ]
    dishes = [Item(code, "menu", "each") for code in ("BUN", "SOUP", "STEW")]
    others = [Item("LEEK", "ingredient", "g"), Item("COLA", "resale", "each")]
    return Kitchen(
        places={place.code: place for place in places},
        items={item.code: item for item in [*dishes, *others]},
        recipes={},
        stops=stops,
        bookings=(),
        lots=(),
        coming=(),
        menus=dict(menus or {}),
    )


def stop(
    day: date,
    *,
    location: str = "VAN1",
    site: str = "Quay",
    covers: float | None = None,
    cancelled: bool = False,
    opens: time = time(11),
    event: str = "",
) -> Stop:
    key = f"{location}/{day}/{opens:%H:%M}/{site}"
    return Stop(key, location, day, opens, time(15), site, event, covers, None, cancelled)


def sales(rows: list[tuple[object, ...]]) -> pd.DataFrame:
    """Rows of location, site, day, item, qty and sold_out, all at 11:00."""
    full = [(loc, site, day, "11:00", item, qty, out) for loc, site, day, item, qty, out in rows]
    table = pd.DataFrame(full, columns=list(SALES_COLUMNS))
    return table.assign(day=pd.to_datetime(table["day"]), qty=table["qty"].astype(float))


def usage(rows: list[tuple[str, str, date, float]]) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=list(USAGE_COLUMNS))
    return table.assign(day=pd.to_datetime(table["day"]))


def past(*, usage: pd.DataFrame | None = None, sales: pd.DataFrame | None = None) -> History:
    empty = History.empty()
    return History(
        sales=empty.sales if sales is None else sales,
        usage=empty.usage if usage is None else usage,
    )


def daily_usage(item: str = "LEEK", *, days: int = 120, seed: int = 5) -> pd.DataFrame:
    """About 20 a day on weekdays, 40 at weekends, at the restaurant."""
    rng = np.random.default_rng(seed)
    dates = [T - timedelta(days=back) for back in range(days, 0, -1)]
    return usage(
        [("REST", item, day, float(rng.poisson(40 if day.weekday() > 4 else 20))) for day in dates]
    )


def market_sales(*, weeks: int = 12, seed: int = 7) -> pd.DataFrame:
    """VAN1 at the Quay on Tuesdays: about 60 guests, two of three take soup, one stew."""
    rng = np.random.default_rng(seed)
    rows: list[tuple[object, ...]] = []
    for week in range(1, weeks + 1):
        day = T - timedelta(days=7 * week - 1)
        turnout = rng.gamma(20.0, 3.0)
        rows.append(("VAN1", "Quay", day, "SOUP", rng.poisson(turnout * 2 / 3), False))
        rows.append(("VAN1", "Quay", day, "STEW", rng.poisson(turnout / 3), False))
    return sales(rows)


def run(
    history: History, place: Kitchen, *, seed: int = 1, paths: int = 400, days: int = 7,
    used_today: dict[tuple[str, str], float] | None = None, first_day: date = T,
) -> DemandPaths:  # fmt: skip
    return demand_paths(
        history,
        place,
        first_day=first_day,
        days=days,
        seed=seed,
        paths=paths,
        used_today=used_today or {},
    )
