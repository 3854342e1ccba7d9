"""How things are made. Figures are kept as typed; selectors turn them into base units."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Quantity
from inventory.models.items import Item
from inventory.models.places import Location


class Recipe(models.Model):
    item = models.OneToOneField(Item, models.PROTECT, related_name="recipe")
    makes_qty = Quantity()
    makes_unit = models.CharField(max_length=20)
    made_at = models.ForeignKey(
        Location, models.PROTECT, null=True, blank=True, help_text="Empty: the commissary."
    )
    lead_hours = Quantity(default=0)
    hands_on_minutes = models.PositiveIntegerField(null=True, blank=True)
    batch_min_qty = Quantity(null=True, blank=True)
    batch_max_qty = Quantity(null=True, blank=True)
    batch_unit = models.CharField(max_length=20, blank=True)
    batch_minutes = models.PositiveIntegerField(null=True, blank=True)
    equipment = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["item"]
        constraints = [
            models.CheckConstraint(
                name="recipe_makes_something",
                condition=Q(makes_qty__gt=0),
                violation_error_message="A recipe makes more than 0.",
            ),
            models.CheckConstraint(
                name="recipe_lead_not_negative",
                condition=Q(lead_hours__gte=0),
                violation_error_message="lead_hours is 0 or more.",
            ),
            models.CheckConstraint(
                name="recipe_batch_limits_positive",
                condition=(Q(batch_min_qty__isnull=True) | Q(batch_min_qty__gt=0))
                & (Q(batch_max_qty__isnull=True) | Q(batch_max_qty__gt=0)),
                violation_error_message="Batch limits are more than 0.",
            ),
            models.CheckConstraint(
                name="recipe_batch_limits_in_order",
                condition=Q(batch_min_qty__isnull=True)
                | Q(batch_max_qty__isnull=True)
                | Q(batch_min_qty__lte=models.F("batch_max_qty")),
                violation_error_message="The smallest batch is at most the largest.",
            ),
        ]

    def __str__(self) -> str:
        return f"Recipe of {self.item}"


class RecipeLine(models.Model):
    """``qty`` is the usable quantity; ``yield_pct`` the usable share of what is drawn."""

    recipe = models.ForeignKey(Recipe, models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="used_in")
    position = models.PositiveIntegerField()
    qty = Quantity()
    unit = models.CharField(max_length=20)
    yield_pct = Quantity(null=True, blank=True)

    class Meta:
        ordering = ["recipe", "position"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "item"], name="recipe_line_once_per_item"),
            models.CheckConstraint(
                name="recipe_line_positive",
                condition=Q(qty__gt=0),
                violation_error_message="A recipe line takes more than 0.",
            ),
            models.CheckConstraint(
                name="recipe_line_yield_positive",
                condition=Q(yield_pct__isnull=True) | Q(yield_pct__gt=0),
                violation_error_message="A yield is more than 0 %.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.qty} {self.unit} {self.item}"
