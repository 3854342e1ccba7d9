"""Reorder runs: what was considered, ordered or not, and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.api import base
from inventory.selectors.seen import only
from purchasing.api.rows import RunLineRow, RunRow
from purchasing.models import ReorderRun, RunLine
from purchasing.selectors import seen


class Runs(base.Listing):
    """Every run that is kept, as it was worked out."""

    operation, tag = "runs", "runs"
    row_class = RunRow

    def seen(self, asked: Mapping[str, Any]) -> QuerySet[ReorderRun]:
        return seen.runs(self.viewer)


class RunLines(base.Listing):
    """Every pair that a run considered at the places of whoever asks; 0 cases: not ordered."""

    operation, tag = "run_lines", "runs"
    row_class = RunLineRow

    def seen(self, asked: Mapping[str, Any], run: str) -> QuerySet[RunLine]:
        return seen.run_lines(self.viewer, only(seen.runs(self.viewer), pk=int(run)))
