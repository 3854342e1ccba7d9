"""The worked cases K and L of the rules as kitchens, and plans in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from inventory.engine.demand.paths import DemandPaths
from inventory.engine.draws import NO_HOUR, Draws
from inventory.engine.kitchen import Item, Kitchen
from purchasing.engine.levels import LevelPlan, plan_levels
from tests.inventory.engine.small_kitchens import (
    CLOCK,
    at,
    booking,
    day,
    kitchen,
    lot,
    place,
    recipe,
    said,
    stop,
)

Floats = npt.NDArray[np.float64]
Wanted = Mapping[tuple[str, str], Any]


def plan(
    known: Kitchen,
    as_of: str,
    *,
    stops: Wanted | None = None,
    direct: Wanted | None = None,
    weights: Floats | None = None,
    until: str = "12-31",
    level: float = 0.9,
    **settings: Any,
) -> LevelPlan:
    """``stops`` by (stop key, item) and ``direct`` by (place, item), as in DemandPaths; certain
    demand where no ``weights`` are given."""
    today = CLOCK.day_of(at(as_of))
    demand = DemandPaths(
        np.ones(1) if weights is None else weights,
        today,
        {key: np.asarray(qty, dtype=float) for key, qty in (stops or {}).items()},
        {key: np.asarray(qty, dtype=float) for key, qty in (direct or {}).items()},
    )
    return plan_levels(
        known,
        demand,
        clock=CLOCK,
        as_of=at(as_of),
        until=day(until),
        default_service_level=level,
        **settings,
    )


def drawn(draws: Draws) -> list[tuple[str, str, float]]:
    """Moment (or the day, where there is no hour), day of use, quantity on the first path."""
    rows = zip(draws.moment, draws.day, draws.day_of_use, draws.qty, strict=True)
    return [
        (
            day_text(counts) if moment == NO_HOUR else said(int(moment)),
            day_text(used),
            round(float(qty[0]), 9),
        )
        for moment, counts, used, qty in rows
    ]


def day_text(ordinal: int) -> str:
    return day("01-01").fromordinal(int(ordinal)).isoformat()[5:]


def loaded(result: LevelPlan, item: str) -> list[tuple[str, str, float]]:
    """Truck, when it leaves, how much."""
    return [
        (one.place, said(one.leaves), round(one.expected, 9))
        for one in sorted(result.loads, key=lambda one: (one.leaves, one.day, one.place))
        if one.item == item
    ]


def batches(result: LevelPlan, item: str) -> list[tuple[str, float]]:
    """Start and size of each batch, on the first path."""
    return [
        (said(batch.start), round(float(batch.qty[0]), 9))
        for run in result.runs
        if run.item == item
        for batch in run.starts
    ]


def case_k() -> Kitchen:
    """50 bowls on Thursday 2026-03-05, 0.3 kg of K each. Base units are kg here."""
    return kitchen(
        [
            place("COM", "commissary", hours=("06:00", "18:00"), loads="07:00"),
            place("A", by="COM"),
        ],
        [
            Item("BOWL", "menu", "each"),
            Item("K", "prep", "kg", shelf_life_days=3),
            Item("PULSES", "ingredient", "kg"),
        ],
        [
            recipe("BOWL", 1, {"K": 0.3}),
            recipe(
                "K", 10, {"PULSES": 2}, batch_min=10, batch_max=10, batch_minutes=60, lead_hours=4
            ),
        ],
        stops=[stop("A", "03-05")],
        bookings=[booking("A", "03-05", "BOWL", 50)],
        lots=[lot("COM", "K", 3, "03-06")],
    )


def case_l() -> Kitchen:
    """Three trucks, two levels of prep, a Sunday on which the kitchen is shut."""
    return kitchen(
        [
            place("COM", "commissary", hours=("06:00", "16:00"), closed=("03-22",)),
            place("A", by="COM", loads="07:00"),
            place("B", by="COM", loads="19:30"),
            place("C", by="COM", loads="07:00"),
        ],
        [
            Item("DISH", "menu", "each"),
            Item("FILL", "prep", "kg", shelf_life_days=2, on_return="discard"),
            Item("BASE", "prep", "kg", shelf_life_days=3, on_return="discard"),
            Item("ROLL", "ingredient", "each", shelf_life_days=4, on_return="keep"),
            Item("BEAN", "ingredient", "kg", on_return="keep"),
            Item("ONION", "ingredient", "kg", on_return="keep"),
            Item("CUP", "packaging", "each", on_return="keep"),
        ],
        [
            recipe("DISH", 1, {"FILL": 0.2, "ROLL": 1, "CUP": 1}),
            recipe(
                "FILL",
                6,
                {"BASE": 3, "ONION": 1.2 / 0.8},
                batch_min=3,
                batch_max=6,
                batch_minutes=30,
            ),
            recipe(
                "BASE",
                10,
                {"BEAN": 4 / 0.8},
                batch_min=10,
                batch_max=10,
                batch_minutes=60,
                lead_hours=12,
            ),
        ],
        stops=[stop("A", "03-21"), stop("A", "03-22"), stop("B", "03-22"), stop("A", "03-23")],
        bookings=[
            booking("A", "03-21", "DISH", 60),
            booking("A", "03-22", "DISH", 40),
            booking("B", "03-22", "DISH", 70),
            booking("A", "03-23", "DISH", 50),
        ],
        lots=[
            lot("COM", "FILL", 2, "03-21"),
            lot("COM", "BASE", 4, "03-21"),
            lot("COM", "BEAN", 1),
            lot("COM", "ONION", 0.5),
            lot("COM", "ROLL", 80, "03-21"),
            lot("COM", "CUP", 50),
            lot("A", "FILL", 1, "03-22"),
            lot("B", "ROLL", 10, "03-21"),
            lot("B", "ROLL", 20, "03-22"),
            lot("C", "CUP", 30),
        ],
    )


RICE = Item("RICE", "ingredient", "g")
LEEK = Item("LEEK", "ingredient", "g", shelf_life_days=5, on_return="keep")
STOCK = Item("STOCK", "prep", "g", shelf_life_days=3)
SOUP = Item("SOUP", "menu", "each")
SOUP_RECIPE = recipe("SOUP", 1, {"STOCK": 300, "LEEK": 50})
STOCK_RECIPE = recipe("STOCK", 1000, {"LEEK": 200}, batch_minutes=60)
COM = place("COM", "commissary", hours=("06:00", "16:00"))
A = place("A", by="COM", loads="07:00")


def soups(**more: Any) -> Kitchen:
    """SOUP = 300 g STOCK and 50 g LEEK; a kilo of STOCK takes 200 g LEEK."""
    places = more.pop("places", [COM, A])
    return kitchen(places, [SOUP, STOCK, LEEK, RICE], [SOUP_RECIPE, STOCK_RECIPE], **more)
