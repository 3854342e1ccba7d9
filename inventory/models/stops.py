"""Where the trucks will be, what they sell there, and what is booked."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Money, Quantity
from inventory.models.items import Item
from inventory.models.places import Location
from inventory.models.words import unique_with_blank


class Stop(models.Model):
    """One truck at one place for one service. It belongs to the date on which it opens."""

    location = models.ForeignKey(Location, models.PROTECT, related_name="stops")
    date = models.DateField()
    opens = models.TimeField(null=True, blank=True)
    closes = models.TimeField(null=True, blank=True)
    site = models.CharField(max_length=120, blank=True)
    event = models.CharField(max_length=120, blank=True)
    expected_covers = Quantity(null=True, blank=True)
    guaranteed_covers = Quantity(null=True, blank=True)
    cancelled = models.BooleanField(default=False)
    site_fee = Money(null=True, blank=True)
    site_fee_pct = Quantity(null=True, blank=True)
    crew_hours = Quantity(null=True, blank=True)

    class Meta:
        ordering = ["date", "opens", "location"]
        constraints = [
            *unique_with_blank("stop_once", ["location", "date", "opens", "site"], blank="opens"),
            models.CheckConstraint(
                name="stop_covers_not_negative",
                condition=(Q(expected_covers__isnull=True) | Q(expected_covers__gte=0))
                & (Q(guaranteed_covers__isnull=True) | Q(guaranteed_covers__gte=0)),
                violation_error_message="Covers are 0 or more.",
            ),
        ]
        indexes = [models.Index(fields=["date"], name="stop_date")]

    def __str__(self) -> str:
        return f"{self.location} at {self.site or 'a site'} on {self.date}"


class MenuEntry(models.Model):
    """What a location sells, at every site or one, from a day to a day."""

    location = models.ForeignKey(Location, models.PROTECT, related_name="menu")
    item = models.ForeignKey(Item, models.PROTECT, related_name="on_menus")
    site = models.CharField(max_length=120, blank=True)
    first = models.DateField(null=True, blank=True)
    last = models.DateField(null=True, blank=True)
    price = Money(null=True, blank=True)

    class Meta:
        constraints = [
            *unique_with_blank(
                "menu_entry_once", ["location", "item", "site", "first"], blank="first"
            ),
            models.CheckConstraint(
                name="menu_entry_dates_in_order",
                condition=Q(first__isnull=True)
                | Q(last__isnull=True)
                | Q(last__gte=models.F("first")),
                violation_error_message="A menu entry ends on or after the day it starts.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} at {self.location}"


class Booking(models.Model):
    class Status(models.TextChoices):
        ENQUIRY = "enquiry", "enquiry"
        CONFIRMED = "confirmed", "confirmed"
        SERVED = "served", "served"
        CANCELLED = "cancelled", "cancelled"

    location = models.ForeignKey(Location, models.PROTECT, related_name="bookings")
    date = models.DateField()
    item = models.ForeignKey(Item, models.PROTECT, related_name="bookings")
    customer = models.CharField(max_length=120, blank=True)
    ordinal = models.PositiveIntegerField(default=1, help_text="Order among equal bookings.")
    qty = Quantity()
    unit = models.CharField(max_length=20)
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.CONFIRMED)
    final_by = models.DateField(null=True, blank=True)
    price = Money(null=True, blank=True)
    deposit = Money(null=True, blank=True)

    class Meta:
        ordering = ["date", "location", "item"]
        constraints = [
            models.UniqueConstraint(
                fields=["location", "date", "item", "customer", "ordinal"], name="booking_once"
            ),
            models.CheckConstraint(
                name="booking_not_negative",
                condition=Q(qty__gte=0),
                violation_error_message="A booking is for 0 or more.",
            ),
        ]
        indexes = [models.Index(fields=["date"], name="booking_date")]

    def __str__(self) -> str:
        return f"{self.qty} {self.unit} {self.item} on {self.date}"
