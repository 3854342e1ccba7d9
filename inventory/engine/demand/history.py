"""What was sold and used, as the forecaster sees it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

SALES_COLUMNS = ("location", "site", "day", "opens", "item", "qty", "sold_out")
USAGE_COLUMNS = ("location", "item", "day", "qty")


@dataclass(frozen=True, slots=True)
class History:
    """Rows dated before T only (R3).

    ``sales``: one row per location, day, stop and item sold: ``location``, ``site``,
    ``item`` text; ``day`` datetime64; ``opens`` text ``HH:MM`` or empty; ``qty`` float in
    base units; ``sold_out`` bool (from then on the figure is a lower bound of demand).
    ``usage``: past usage not explained by sales: ``location``, ``item``, ``day``, ``qty``.
    """

    sales: pd.DataFrame
    usage: pd.DataFrame

    @classmethod
    def empty(cls) -> History:
        return cls(
            pd.DataFrame({column: [] for column in SALES_COLUMNS}),
            pd.DataFrame({column: [] for column in USAGE_COLUMNS}),
        )
