"""Pars: how much a location wants of an item, by weekday and basis."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Quantity
from inventory.models import Item, Location
from inventory.models.words import unique_with_blank


class Par(models.Model):
    class Basis(models.TextChoices):
        FIXED = "fixed", "fixed"
        FORECAST = "forecast", "forecast"
        GREATER = "greater", "greater"
        COST = "cost", "cost"

    location = models.ForeignKey(Location, models.PROTECT, related_name="pars")
    item = models.ForeignKey(Item, models.PROTECT, related_name="pars")
    weekday = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Monday = 0; empty: every day."
    )
    par = Quantity(null=True, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    basis = models.CharField(max_length=8, choices=Basis.choices)
    service_level = Quantity(null=True, blank=True)
    supplied_by = models.ForeignKey(
        Location, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["location", "item", "weekday"]
        constraints = [
            *unique_with_blank(
                "par_once_per_weekday", ["location", "item", "weekday"], blank="weekday"
            ),
            models.CheckConstraint(
                name="par_weekday", condition=Q(weekday__isnull=True) | Q(weekday__lte=6)
            ),
            models.CheckConstraint(
                name="par_not_negative",
                condition=Q(par__isnull=True) | Q(par__gte=0),
                violation_error_message="A par is 0 or more.",
            ),
            models.CheckConstraint(
                name="par_where_the_basis_needs_one",
                condition=Q(par__isnull=False) | ~Q(basis__in=["fixed", "greater"]),
                violation_error_message="Basis fixed and greater need a par.",
            ),
            models.CheckConstraint(
                name="par_service_level_between_0_and_1",
                condition=Q(service_level__isnull=True)
                | Q(service_level__gt=0, service_level__lt=1),
                violation_error_message="A service level lies between 0 and 1.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.par} {self.unit} {self.item} at {self.location}"
