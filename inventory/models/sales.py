"""What was sold, and what was used otherwise."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Money, Quantity
from inventory.models.items import Item
from inventory.models.places import Location
from inventory.models.words import unique_with_blank


class Sale(models.Model):
    """One item at one service. ``sold_out_at`` makes ``qty`` a lower bound of demand."""

    location = models.ForeignKey(Location, models.PROTECT, related_name="sales")
    date = models.DateField()
    opens = models.TimeField(null=True, blank=True)
    site = models.CharField(max_length=120, blank=True)
    item = models.ForeignKey(Item, models.PROTECT, related_name="sales")
    qty = Quantity(help_text="In the item's own unit.")
    net_amount = Money(null=True, blank=True)
    sold_out_at = models.TimeField(null=True, blank=True)

    class Meta:
        constraints = [
            *unique_with_blank(
                "sale_once", ["location", "date", "opens", "site", "item"], blank="opens"
            ),
            models.CheckConstraint(
                name="sale_not_negative",
                condition=Q(qty__gte=0),
                violation_error_message="A sale is 0 or more.",
            ),
        ]
        indexes = [models.Index(fields=["date"], name="sale_date")]

    def __str__(self) -> str:
        return f"{self.qty} {self.item} at {self.location} on {self.date}"


class Usage(models.Model):
    """Past usage that no sale explains."""

    location = models.ForeignKey(Location, models.PROTECT, related_name="usage")
    date = models.DateField()
    item = models.ForeignKey(Item, models.PROTECT, related_name="usage")
    qty = Quantity()
    unit = models.CharField(max_length=20)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["location", "date", "item"], name="usage_once"),
            models.CheckConstraint(
                name="usage_not_negative",
                condition=Q(qty__gte=0),
                violation_error_message="A usage is 0 or more.",
            ),
        ]
        indexes = [models.Index(fields=["date"], name="usage_date")]

    def __str__(self) -> str:
        return f"{self.qty} {self.unit} {self.item} at {self.location} on {self.date}"
