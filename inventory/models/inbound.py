"""What is coming, told to this app by purchasing; the source stays text."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Quantity
from inventory.models.items import Item
from inventory.models.places import Location


class Inbound(models.Model):
    """One open order line: deleted when nothing more is coming."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="inbound")
    location = models.ForeignKey(Location, models.PROTECT, related_name="inbound")
    due = models.DateField()
    qty = Quantity(help_text="Base units still to come.")
    use_by = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=120, help_text="Who sends it, in words.")
    source_key = models.CharField(max_length=120, unique=True)

    class Meta:
        ordering = ["due", "source_key"]
        constraints = [
            models.CheckConstraint(name="inbound_positive", condition=Q(qty__gt=0)),
        ]
        indexes = [models.Index(fields=["location", "item", "due"], name="inbound_pair")]

    def __str__(self) -> str:
        return f"{self.qty} of {self.item} due {self.due}"
