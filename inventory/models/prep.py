"""Batches: what went in, what came out."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.fields import Quantity
from inventory.models.lots import Lot
from inventory.models.places import Location
from inventory.models.recipes import Recipe


class Batch(models.Model):
    recipe = models.ForeignKey(Recipe, models.PROTECT, related_name="batches")
    location = models.ForeignKey(Location, models.PROTECT, related_name="batches")
    started_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    expected_qty = Quantity()
    finished_at = models.DateTimeField(null=True, blank=True)
    made_qty = Quantity(null=True, blank=True)
    lot = models.OneToOneField(Lot, models.PROTECT, null=True, blank=True, related_name="batch")

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="batch_finished_has_a_lot",
                condition=Q(finished_at__isnull=True, made_qty__isnull=True, lot__isnull=True)
                | Q(
                    finished_at__isnull=False,
                    # a check that comes to null lets the row pass
                    made_qty__isnull=False,
                    made_qty__gte=0,
                    lot__isnull=False,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.recipe.item} started {self.started_at}"

    @property
    def reference(self) -> str:
        """What its movements refer to."""
        return f"batch:{self.pk}"


class BatchInput(models.Model):
    batch = models.ForeignKey(Batch, models.CASCADE, related_name="inputs")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="went_into")
    qty = Quantity()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["batch", "lot"], name="batch_input_once"),
            models.CheckConstraint(name="batch_input_positive", condition=Q(qty__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.qty} of {self.lot}"
