"""Reorder runs: what was worked out, from what, so that it can be read again."""

from __future__ import annotations

from typing import Any

from django.db import models

from inventory.models import Item, Location
from inventory.models.words import unique_with_blank


class ReorderRun(models.Model):
    """One run over the whole business. The same data, moment and seed find the same run."""

    as_of = models.DateTimeField()
    seed = models.BigIntegerField()
    paths = models.PositiveIntegerField()
    inputs_digest = models.CharField(max_length=64)
    settings: models.JSONField[Any, Any] = models.JSONField(default=dict)
    worked_out_at = models.DateTimeField()

    class Meta:
        ordering = ["-as_of", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["as_of", "seed", "paths", "inputs_digest"], name="run_once"
            )
        ]

    def __str__(self) -> str:
        return f"Run of {self.as_of}"


class RunLine(models.Model):
    """One pair considered, ordered or not, with its reasons."""

    run = models.ForeignKey(ReorderRun, models.CASCADE, related_name="lines")
    location = models.ForeignKey(Location, models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    supplier = models.ForeignKey("purchasing.Supplier", models.PROTECT, null=True, related_name="+")
    sku = models.CharField(max_length=40, blank=True)
    cases = models.PositiveIntegerField(default=0)
    reasons: models.JSONField[Any, Any] = models.JSONField(default=dict)

    class Meta:
        constraints = [
            *unique_with_blank(
                "run_line_once", ["run", "location", "item", "supplier", "sku"], blank="supplier"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} at {self.location}: {self.cases}"
