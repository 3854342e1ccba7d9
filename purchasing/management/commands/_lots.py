"""The document that ``expiring`` prints."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from inventory.selectors.measures import Measures
from purchasing.selectors.run_document import digits, in_own_unit, rounded
from purchasing.selectors.use_by import LotAtRisk, lots_at_risk


def lots_document(
    today: date, *, at: datetime | None, days: int, location: str | None = None
) -> dict[str, Any]:
    lots, measures = lots_at_risk(today, at=at, days=days, location=location)
    return {"as_of": today.isoformat(), "lots": [_lot(lot, measures) for lot in lots]}


def _lot(lot: LotAtRisk, measures: Measures) -> dict[str, Any]:
    return {
        "lot": lot.strip,
        "supplier_lot": lot.supplier_lot,
        "item": lot.item,
        "location": lot.location,
        "qty": digits(measures.in_own_unit(lot.item, lot.qty)),
        "unit": measures.own_unit(lot.item),
        "use_by": lot.use_by.isoformat(),
        "days_left": lot.days_left,
        "on_hold": lot.on_hold,
        "expected_waste_qty": in_own_unit(lot.expected_waste, lot.item, measures),
        "expected_waste_value": None if lot.value is None else f"{lot.value:.2f}",
        "chance_of_waste": rounded(lot.chance),
    }
