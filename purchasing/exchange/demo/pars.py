"""How much each place wants of what: fixed for what keeps, forecast for what does not."""

from __future__ import annotations

import math
from dataclasses import dataclass

from purchasing.exchange.demo.measures import Measures
from purchasing.exchange.demo.pace import COUNTER_BUYS, Pace, pack_size
from purchasing.exchange.demo.places import COMMISSARY, COUNTER
from purchasing.exchange.demo.table import Row, number, table

# Days of use that a fixed par holds, by the house it comes from.
KEPT_DAYS = {"OSGOOD": 9, "TUCKFOLD": 11, "WINTERGILL": 8, "STELL": 8}
# Nobody counts less of a tub of spice.
_LEAST_PACKS = 0.4
_GREATER = {"FLOUR", "RICE", "SOY-OIL", "CHICKEN-BONES"}
_LEVELS = {
    "BRACKWATER": "0.95",
    "MARLPIT": "0.92",
    "REEDWICK": "0.95",
    "FENNICK": "0.9",
    "PELLHOUSE": "0.9",
}
_GARNISH_LEVEL = "0.8"
# Deliveries before a weekend must hold more of these.
_WEEKEND = {"BOX-DUMPLING": 1.3, "SLEEVE": 1.3, "CUP-SAUCE": 1.25, "NAPKIN": 1.25}

_TRUCK_PARS = table(
    """
    location | item | basis | service_level
    PLEAT | PORK-DUMPLING | forecast | 0.97
    PLEAT | DIP-SAUCE | forecast | 0.97
    LADLE | CHICKEN-BROTH | forecast | 0.95
    HEARTH | BEEF-FLATBREAD | forecast | 0.93
    BASKET | RICE-COOKED | forecast | 0.95
    """
)


@dataclass(frozen=True, slots=True)
class FixedPar:
    """``qty`` in the item's own unit."""

    item: str
    qty: float
    basis: str


def fixed_pars(pace: Pace, first: dict[str, Row], measures: Measures) -> dict[str, FixedPar]:
    """Of the commissary, by item: what keeps, at so many days of use; ``first`` is the
    first choice's offer of each item."""
    pars = {}
    for item, offer in first.items():
        days, uses = KEPT_DAYS.get(offer["supplier"]), pace.leaves.get((COMMISSARY, item))
        if days and uses:
            least = _LEAST_PACKS * pack_size(offer, measures)
            own = max(uses * days, least) / measures.base(item, 1.0, measures.items[item]["unit"])
            basis = "greater" if item in _GREATER else "fixed"
            pars[item] = FixedPar(item, neat(own), basis)
    return pars


def neat(qty: float) -> float:
    """Rounded up to two figures, as a person would write a par."""
    step = 10.0 ** (math.floor(math.log10(qty)) - 1)
    return round(math.ceil(qty / step) * step, 6)


def par_rows(
    fixed: dict[str, FixedPar], pace: Pace, first: dict[str, Row], measures: Measures
) -> list[Row]:
    rows = []
    for item, offer in first.items():
        if item in fixed:
            rows.extend(_fixed(fixed[item], measures.items[item]["unit"]))
        elif (COMMISSARY, item) in pace.leaves:
            rows.append(_row(COMMISSARY, item, "forecast", level=_level(item, offer, measures)))
    return [*rows, *_counter(pace, first, measures), *map(_truck, _TRUCK_PARS)]


def _fixed(par: FixedPar, unit: str) -> list[Row]:
    every = _row(COMMISSARY, par.item, par.basis, par=par.qty, unit=unit)
    if par.item not in _WEEKEND:
        return [every]
    more = neat(par.qty * _WEEKEND[par.item])
    return [every, {**_row(COMMISSARY, par.item, par.basis, par=more, unit=unit), "weekday": "fri"}]


def _level(item: str, offer: Row, measures: Measures) -> str:
    if measures.items[item]["can_be_left_off"]:
        return _GARNISH_LEVEL
    return _LEVELS[offer["supplier"]]


def _counter(pace: Pace, first: dict[str, Row], measures: Measures) -> list[Row]:
    """The counter orders a few things itself; all else that is bought comes from the
    commissary, which only a par row can say of a place that buys for itself."""
    bought = sorted(item for place, item in pace.used if place == COUNTER and item in first)
    return [
        _row(
            COUNTER,
            item,
            "forecast",
            level=_level(item, first[item], measures) if item in COUNTER_BUYS else "",
            supplied_by="" if item in COUNTER_BUYS else COMMISSARY,
        )
        for item in bought
    ]


def _truck(row: Row) -> Row:
    return _row(row["location"], row["item"], row["basis"], level=row["service_level"])


def _row(
    location: str,
    item: str,
    basis: str,
    *,
    par: float | None = None,
    unit: str = "",
    level: str = "",
    supplied_by: str = "",
) -> Row:
    return {
        "location": location,
        "item": item,
        "weekday": "",
        "par": "" if par is None else number(par),
        "unit": unit,
        "basis": basis,
        "service_level": level,
        "supplied_by": supplied_by,
    }
