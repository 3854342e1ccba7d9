"""What is used up without being on a recipe: gloves, towels, bags, soap and gas."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from purchasing.exchange.demo.places import COMMISSARY, COUNTER, COUNTER_SHUT_AGO
from purchasing.exchange.demo.stops import PAST_DAYS, Service
from purchasing.exchange.demo.table import Row, number, table

Rng = np.random.Generator

# ``mean`` in ``unit`` when it is used at all, which is on ``often`` of the days.
_HOUSE = table(
    f"""
    location | item | unit | mean | often
    {COMMISSARY} | GLOVES | each | 110 | 1
    {COMMISSARY} | LABEL | each | 130 | 1
    {COMMISSARY} | TOWEL | each | 2 | 0.9
    {COMMISSARY} | SANITIZER | gal | 0.3 | 0.6
    {COMMISSARY} | DETERGENT | gal | 0.4 | 0.5
    {COUNTER} | GLOVES | each | 60 | 1
    {COUNTER} | BAG | each | 34 | 1
    {COUNTER} | TOWEL | each | 1.4 | 0.8
    {COUNTER} | DETERGENT | gal | 0.25 | 0.4
    """
)

# At a truck, for each guest of an ordinary day.
_ABOARD = table(
    """
    item | unit | each_guest | often
    BAG | each | 0.34 | 1
    GLOVES | each | 0.3 | 1
    TOWEL | each | 0.02 | 0.7
    GAS | each | 0.012 | 0.4
    """
)
_IN_PARTS = {"gal"}


@dataclass(frozen=True, slots=True)
class Used:
    location: str
    day: date
    item: str
    qty: float
    unit: str


def used_before(today: date, services: list[Service], rng: Rng) -> list[Used]:
    """Direct usage of the past 120 days; the two stops of a truck's day are one row."""
    first = today - timedelta(days=PAST_DAYS)
    rows: dict[tuple[str, date, str], Used] = {}
    for one in (*_in_houses(first, rng), *_aboard(today, services, rng)):
        key = (one.location, one.day, one.item)
        before = rows[key].qty if key in rows else 0.0
        rows[key] = Used(one.location, one.day, one.item, before + one.qty, one.unit)
    return [rows[key] for key in sorted(rows)]


def _in_houses(first: date, rng: Rng) -> Iterator[Used]:
    shut = first + timedelta(days=PAST_DAYS - COUNTER_SHUT_AGO)
    for n in range(PAST_DAYS):
        day = first + timedelta(days=n)
        for row in _HOUSE:
            used = rng.random() < float(row["often"])
            qty = _some(float(row["mean"]), row["unit"], rng)
            if used and qty and not (row["location"] == COUNTER and day == shut):
                yield Used(row["location"], day, row["item"], qty, row["unit"])


def _aboard(today: date, services: list[Service], rng: Rng) -> Iterator[Used]:
    for one in services:
        if one.day >= today or one.cancelled:
            continue
        for row in _ABOARD:
            used = rng.random() < float(row["often"])
            qty = _some(float(row["each_guest"]) * one.covers, row["unit"], rng)
            if used and qty:
                yield Used(one.location, one.day, row["item"], qty, row["unit"])


def _some(mean: float, unit: str, rng: Rng) -> float:
    """About ``mean``: whole pieces, or measures to the twentieth."""
    drawn = mean * float(rng.gamma(8.0, 1 / 8.0))
    return round(drawn * 20) / 20 if unit in _IN_PARTS else float(round(drawn))


def usage_rows(used: list[Used]) -> list[Row]:
    return [
        {
            "location": one.location,
            "date": str(one.day),
            "item": one.item,
            "qty": number(one.qty),
            "unit": one.unit,
        }
        for one in used
    ]
