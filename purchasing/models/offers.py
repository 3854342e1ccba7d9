"""What suppliers sell, in which packs, at what price from which day on."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Money, Quantity
from inventory.models import Item
from inventory.models.words import unique_with_blank
from purchasing.models.suppliers import Supplier


class Offer(models.Model):
    """One supplier's way of selling one item; several packs of it are several offers."""

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="offers")
    item = models.ForeignKey(Item, models.PROTECT, related_name="offers")
    sku = models.CharField(max_length=40, blank=True)
    pack_qty = Quantity()
    pack_unit = models.CharField(max_length=20)
    pack_text = models.CharField(max_length=80, blank=True)
    priced_per = models.CharField(max_length=20, default="case")
    gtin = models.CharField(max_length=14, blank=True)
    piece_price = Money(null=True, blank=True)
    pieces_per_case = models.PositiveIntegerField(null=True, blank=True)
    minimum_cases = models.PositiveIntegerField(default=1)
    case_multiple = models.PositiveIntegerField(default=1)
    rank = models.PositiveIntegerField(default=1, help_text="1: first choice.")
    catch_weight = models.BooleanField(default=False)
    nominal_qty = Quantity(null=True, blank=True, help_text="In pack units.")
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["item", "rank", "supplier", "sku"]
        constraints = [
            models.UniqueConstraint(fields=["supplier", "item", "sku"], name="offer_once"),
            models.CheckConstraint(
                name="offer_pack_positive",
                condition=Q(pack_qty__gt=0),
                violation_error_message="A pack holds more than 0.",
            ),
            models.CheckConstraint(
                name="offer_nominal_positive",
                condition=Q(nominal_qty__isnull=True) | Q(nominal_qty__gt=0),
                violation_error_message="The nominal weight is more than 0.",
            ),
            models.CheckConstraint(
                name="offer_cases_at_least_one",
                condition=Q(minimum_cases__gte=1, case_multiple__gte=1),
                violation_error_message="Minimum cases and case multiple are 1 or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} from {self.supplier} {self.sku}".strip()


class Price(models.Model):
    """Start date only: in force is the latest start on or before the delivery day.
    An empty start is the price since always."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="prices")
    starts_on = models.DateField(null=True, blank=True)
    price = Money(help_text="Per case, or per the weight unit the offer is priced in.")

    class Meta:
        ordering = ["offer", "starts_on"]
        constraints = [
            *unique_with_blank("price_once_per_day", ["offer", "starts_on"], blank="starts_on"),
            models.CheckConstraint(
                name="price_not_negative",
                condition=Q(price__gte=0),
                violation_error_message="A price is 0 or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.price} from {self.starts_on or 'always'}"


class PriceBreak(models.Model):
    """From so many cases on, every case costs this."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="breaks")
    from_cases = models.PositiveIntegerField()
    price = Money()

    class Meta:
        ordering = ["offer", "from_cases"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "from_cases"], name="price_break_once"),
            models.CheckConstraint(
                name="price_break_valid",
                condition=Q(price__gte=0, from_cases__gte=1),
                violation_error_message="A price break starts at 1 case or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.price} from {self.from_cases} cases"
