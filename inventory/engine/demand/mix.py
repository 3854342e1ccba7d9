"""Which dishes the guests of a stop take: shares learnt from sales, new dishes from a prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from inventory.engine.demand.sessions import guest_items
from inventory.engine.kitchen import Kitchen, Stop

Floats = npt.NDArray[np.float64]

HALF_LIFE = 56.0  # days
# Guests whose choice the prior counts for, as in MX-01 (own assumption).
PRIOR_GUESTS = 20.0
# Shares of one day wander about their mean as if known from this many guests at most (own
# assumption, so that a long history does not make the mix of a single day look certain).
STEADIEST = 150.0
STILL_SOLD = 56  # days: without a menu, what was sold this recently is offered


@dataclass(frozen=True, slots=True)
class MenuMix:
    """What one stop offers. ``share`` (K,) of the guests who take each item; ``dish`` marks
    those that divide the guests between them (shares sum to 1), the others are taken beside.
    ``steadiness``: the Dirichlet weight of one day's shares."""

    items: tuple[str, ...]
    share: Floats
    dish: npt.NDArray[np.bool_]
    steadiness: float


@dataclass(frozen=True, slots=True)
class SoldRates:
    """Weighted portions and guests offered them, per (location, item) and per item."""

    sold: dict[tuple[str, str], tuple[float, float]]
    last_age: dict[tuple[str, str], float]
    everywhere: dict[str, tuple[float, float]]


def learn_rates(rows: pd.DataFrame, age: Floats, kitchen: Kitchen) -> SoldRates:
    """``rows`` as from ``stop_sales``; ``age`` (n,) their days before T. A sold-out day tells
    what was taken while there was some of everything: its shares count half (own
    assumption)."""
    if rows.empty:
        return SoldRates({}, {}, {})
    weight = 0.5 ** (age / HALF_LIFE) * np.where(rows["sold_out"], 0.5, 1.0)
    table = rows.assign(age=age, weighted=weight * rows["qty"])
    guests = _guests_by_session(rows, age, kitchen)
    sold: dict[tuple[str, str], tuple[float, float]] = {}
    last: dict[tuple[str, str], float] = {}
    for (where, item), group in table.groupby(["location", "item"], sort=True):
        key = (str(where), str(item))
        here = guests[guests["location"] == where]
        offered = here[_offered(here, group, kitchen, *key)]
        sold[key] = float(group["weighted"].sum()), float(offered["weighted"].sum())
        last[key] = float(group["age"].min())
    return SoldRates(sold, last, _everywhere(sold))


def _guests_by_session(rows: pd.DataFrame, age: Floats, kitchen: Kitchen) -> pd.DataFrame:
    counted = rows["qty"].where(guest_items(rows, kitchen), 0.0)
    short = rows.groupby("session")["sold_out"].transform("any")
    weight = 0.5 ** (age / HALF_LIFE) * np.where(short, 0.5, 1.0)
    table = rows.assign(weighted=weight * counted, age=age)
    keys = ["session", "location", "site", "day", "age"]
    return table.groupby(keys, as_index=False, sort=True).agg({"weighted": "sum"})


def _offered(
    sessions: pd.DataFrame, sold: pd.DataFrame, kitchen: Kitchen, where: str, item: str
) -> pd.Series[bool]:
    """Services at which the item could be had: by the menu, else since it first sold."""
    spans = [span for span in kitchen.menus.get(where, ()) if span.item == item]
    if not spans:
        return sessions["age"].le(float(sold["age"].max()))
    on_menu = [
        any(span.covers(day.date(), site) for span in spans)
        for day, site in zip(sessions["day"], sessions["site"], strict=True)
    ]
    taken = sessions["session"].isin(sold["session"])
    return taken | pd.Series(on_menu, index=sessions.index, dtype=bool)


def _everywhere(
    sold: dict[tuple[str, str], tuple[float, float]],
) -> dict[str, tuple[float, float]]:
    totals: dict[str, tuple[float, float]] = {}
    for (_, item), (portions, guests) in sold.items():
        before = totals.get(item, (0.0, 0.0))
        totals[item] = before[0] + portions, before[1] + guests
    return totals


def menu_mix(stop: Stop, rates: SoldRates, kitchen: Kitchen) -> MenuMix | None:
    """Shares of what the stop offers; None where it offers nothing."""
    items = tuple(sorted(_on_offer(stop, rates, kitchen)))
    kinds = [kitchen.items[item].kind if item in kitchen.items else "" for item in items]
    dish = np.array([kind == "menu" for kind in kinds], dtype=np.bool_)
    if not dish.any():
        dish = np.ones(len(items), dtype=np.bool_)
    share = np.array([_rate(stop.location, item, rates, dish.sum()) for item in items])
    beside = np.array([item in rates.everywhere for item in items], dtype=np.bool_)
    share = np.where(dish | beside, share, 0.0)  # goods never sold get nothing (R5)
    if not items or not share[dish].sum() > 0:
        return None
    share[dish] /= share[dish].sum()
    return MenuMix(items, share, dish, _steadiness(stop, items, dish, rates))


def _on_offer(stop: Stop, rates: SoldRates, kitchen: Kitchen) -> set[str]:
    spans = kitchen.menus.get(stop.location, ())
    if spans:
        return {span.item for span in spans if span.covers(stop.day, stop.site)}
    return {
        item
        for (where, item), age in rates.last_age.items()
        if where == stop.location and age <= STILL_SOLD
    }


def _rate(where: str, item: str, rates: SoldRates, dishes: int) -> float:
    """Portions per guest: the truck's own, pulled to the business's, pulled to equal shares."""
    portions, guests = rates.everywhere.get(item, (0.0, 0.0))
    usual = (portions + PRIOR_GUESTS / dishes) / (guests + PRIOR_GUESTS)
    own, offered = rates.sold.get((where, item), (0.0, 0.0))
    return (own + PRIOR_GUESTS * usual) / (offered + PRIOR_GUESTS)


def _steadiness(
    stop: Stop, items: tuple[str, ...], dish: npt.NDArray[np.bool_], rates: SoldRates
) -> float:
    portions = [rates.sold.get((stop.location, item), (0.0, 0.0))[0] for item in items]
    known = float(np.array(portions)[dish].sum())
    return min(PRIOR_GUESTS + known, STEADIEST)
