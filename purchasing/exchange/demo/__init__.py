"""The invented scenario as a workbook: a kitchen that feeds five trucks and a counter.

Nothing here is stored or read: the same moment gives the same workbook, row for row.
"""

from __future__ import annotations

from purchasing.exchange.demo.workbook import demo_workbook

__all__ = ["demo_workbook"]
