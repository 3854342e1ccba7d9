"""Where things are: the business, its locations, their areas and closing days."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from inventory.fields import Quantity
from inventory.models.words import code_field, weekdays_field


class Setting(models.Model):
    """One line of the settings sheet, as typed."""

    key = models.CharField(max_length=40, primary_key=True)
    value = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


class Location(models.Model):
    class Kind(models.TextChoices):
        COMMISSARY = "commissary", "commissary"
        TRUCK = "truck", "truck"
        KITCHEN = "kitchen", "kitchen"

    code = code_field()
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    supplied_by = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="supplies"
    )
    receives = weekdays_field(help_text="Days on which it receives; empty: every day.")
    opens = models.TimeField(null=True, blank=True)
    closes = models.TimeField(null=True, blank=True)
    load_time = models.TimeField(null=True, blank=True)
    litres = Quantity(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                name="location_not_supplied_by_itself",
                condition=~Q(supplied_by=F("id")),
                violation_error_message="A location cannot be supplied by itself.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class StorageArea(models.Model):
    class Kind(models.TextChoices):
        FROZEN = "frozen", "frozen"
        CHILLED = "chilled", "chilled"
        DRY = "dry", "dry"
        HOT = "hot", "hot"

    location = models.ForeignKey(Location, models.PROTECT, related_name="areas")
    code = code_field(unique=False)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    # Limits are kept and judged in the unit they were given in.
    min_temp = Quantity(null=True, blank=True)
    max_temp = Quantity(null=True, blank=True)
    temp_unit = models.CharField(
        max_length=1, choices=[("F", "°F"), ("C", "°C")], default="F", blank=True
    )
    walk_order = models.IntegerField(null=True, blank=True)
    litres = Quantity(null=True, blank=True)

    class Meta:
        ordering = ["location", "walk_order", "code"]
        constraints = [
            models.UniqueConstraint(fields=["location", "code"], name="area_code_once_per_location")
        ]

    def __str__(self) -> str:
        return f"{self.location} {self.name}"


class ClosingDay(models.Model):
    location = models.ForeignKey(Location, models.PROTECT, related_name="closing_days")
    date = models.DateField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["location", "date"]
        constraints = [
            models.UniqueConstraint(fields=["location", "date"], name="closing_day_once")
        ]

    def __str__(self) -> str:
        return f"{self.location} closed {self.date}"
