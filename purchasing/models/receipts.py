"""Receipts: what really came, line by line."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.fields import Quantity
from inventory.models import Item, Location, Lot
from purchasing.models.orders import OrderLine, PurchaseOrder
from purchasing.models.suppliers import Supplier


class Receipt(models.Model):
    """A delivery taken in; without an order it was bought at the counter."""

    order = models.ForeignKey(
        PurchaseOrder, models.PROTECT, null=True, blank=True, related_name="receipts"
    )
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, null=True, blank=True, related_name="receipts"
    )
    bought_from = models.CharField(max_length=200, blank=True, help_text="Shop and address.")
    location = models.ForeignKey(Location, models.PROTECT, related_name="receipts")
    document = models.CharField(max_length=80, blank=True, help_text="Delivery note number.")
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-happened_at"]
        constraints = [
            models.CheckConstraint(
                name="receipt_names_its_source",
                condition=Q(supplier__isnull=False) | ~Q(bought_from=""),
                violation_error_message="A receipt names the supplier or the shop.",
            ),
        ]

    def __str__(self) -> str:
        return f"Receipt of {self.order or self.bought_from}"


class ReceiptLine(models.Model):
    """accepted + rejected + substituted + to follow + cancelled = expected + over, in cases."""

    receipt = models.ForeignKey(Receipt, models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(
        OrderLine, models.PROTECT, null=True, blank=True, related_name="receipt_lines"
    )
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    lot = models.OneToOneField(
        Lot, models.PROTECT, null=True, blank=True, related_name="receipt_line"
    )
    expected = Quantity(default=0)
    accepted = Quantity(default=0)
    rejected = Quantity(default=0)
    substituted = Quantity(default=0)
    to_follow = Quantity(default=0)
    cancelled = Quantity(default=0)
    over = Quantity(default=0)
    weight = Quantity(null=True, blank=True, help_text="Base units really weighed.")
    temperature = Quantity(null=True, blank=True)
    temperature_unit = models.CharField(max_length=1, blank=True)
    arrived_frozen = models.BooleanField(null=True, blank=True)
    reject_reason = models.CharField(max_length=200, blank=True)
    override_reason = models.CharField(max_length=200, blank=True)
    override_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="receipt_line_adds_up",
                condition=Q(
                    expected=F("accepted")
                    + F("rejected")
                    + F("substituted")
                    + F("to_follow")
                    + F("cancelled")
                    - F("over")
                ),
                violation_error_message=(
                    "Accepted, rejected, substituted, to follow and cancelled add up to what was "
                    "expected plus what came over."
                ),
            ),
            models.CheckConstraint(
                name="receipt_line_not_negative",
                condition=Q(
                    expected__gte=0,
                    accepted__gte=0,
                    rejected__gte=0,
                    substituted__gte=0,
                    to_follow__gte=0,
                    cancelled__gte=0,
                    over__gte=0,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.accepted} of {self.item}"
