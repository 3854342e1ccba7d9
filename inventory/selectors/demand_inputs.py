"""What was sold and used, as frames for the forecaster."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import Any

import pandas as pd

from inventory.engine.demand.history import SALES_COLUMNS, USAGE_COLUMNS, History
from inventory.models import Sale, Usage
from inventory.selectors.measures import Measures


def history_before(day: date, measures: Measures) -> History:
    """Every sale and usage dated before ``day``, in base units, in two queries."""
    sales = Sale.objects.filter(date__lt=day).order_by(
        "location__code", "date", "opens", "site", "item__code"
    )
    sold = [
        (location, site, on, f"{opens:%H:%M}" if opens else "", item, qty, out is not None)
        for location, site, on, opens, item, qty, out in sales.values_list(
            "location__code", "site", "date", "opens", "item__code", "qty", "sold_out_at"
        )
    ]
    usage = Usage.objects.filter(date__lt=day).order_by("location__code", "item__code", "date")
    used = usage.values_list("location__code", "item__code", "date", "qty", "unit")
    return History(_sales_frame(sold, measures), _usage_frame(list(used), measures))


def _sales_frame(rows: list[tuple[Any, ...]], measures: Measures) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=list(SALES_COLUMNS))
    factors = {item: float(measures.base_per_own(item)) for item in set(frame["item"])}
    frame["qty"] = frame["qty"].astype(float) * frame["item"].map(factors).astype(float)
    frame["day"] = pd.to_datetime(frame["day"])
    return frame


def _usage_frame(rows: list[tuple[Any, ...]], measures: Measures) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=[*USAGE_COLUMNS, "unit"])
    pairs = set(zip(frame["item"], frame["unit"], strict=True))
    factors = {pair: float(measures.base_per(*pair)) for pair in pairs}
    keys = zip(frame["item"], frame["unit"], strict=True)
    frame["qty"] = frame["qty"].astype(float) * [factors[key] for key in keys]
    frame["day"] = pd.to_datetime(frame["day"])
    return frame[list(USAGE_COLUMNS)]


def used_on(day: date, measures: Measures) -> dict[tuple[str, str], float]:
    """What is posted for ``day`` already, by location and item, in base units."""
    used: dict[tuple[str, str], float] = defaultdict(float)
    sales = Sale.objects.filter(date=day).values_list("location__code", "item__code", "qty")
    for location, item, qty in sales:
        used[location, item] += float(measures.base_quantity(item, qty, measures.own_unit(item)))
    usage = Usage.objects.filter(date=day).values_list(
        "location__code", "item__code", "qty", "unit"
    )
    for location, item, qty, unit in usage:
        used[location, item] += float(measures.base_quantity(item, qty, unit))
    return dict(used)
