"""Receipts: what really came, line by line."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.fields import Quantity
from inventory.models import Item, Location, Lot
from purchasing.models.orders import OrderLine, PurchaseOrder
from purchasing.models.suppliers import Supplier

# screens.md, Without signal.
LATE_AFTER = timedelta(hours=36)


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
    # What the order goes back to when this receipt is undone.
    order_was = models.CharField(max_length=10, choices=PurchaseOrder.Status.choices, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    undone_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-happened_at"]
        constraints = [
            models.CheckConstraint(
                name="receipt_undone_for_a_reason",
                condition=Q(undone_at__isnull=True, undone_why="")
                | (Q(undone_at__isnull=False) & ~Q(undone_why="")),
                violation_error_message="Whoever undoes a receipt says why.",
            ),
            models.CheckConstraint(
                name="receipt_names_its_source",
                condition=Q(supplier__isnull=False) | ~Q(bought_from=""),
                violation_error_message="A receipt names the supplier or the shop.",
            ),
        ]

    def __str__(self) -> str:
        return f"Receipt of {self.order or self.bought_from}"

    @property
    def reference(self) -> str:
        """What its movements refer to."""
        return f"receipt:{self.pk}"

    @property
    def is_late(self) -> bool:
        """Told so long after it happened that somebody should look at it."""
        return self.recorded_at - self.happened_at > LATE_AFTER


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
    rejected_to_follow = Quantity(
        default=0, help_text="Of the rejected: cases the supplier brings again."
    )
    # A substitute stands on a line of its own, expected 0, that names the line it replaces.
    instead_of = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="substitutes"
    )
    weight = Quantity(null=True, blank=True, help_text="Base units really weighed.")
    temperature = Quantity(null=True, blank=True)
    temperature_unit = models.CharField(max_length=1, blank=True)
    judged = models.CharField(
        max_length=10, blank=True, help_text="As what it was judged at the dock."
    )
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
            models.CheckConstraint(
                name="receipt_line_brought_again_was_rejected",
                condition=Q(rejected_to_follow__gte=0, rejected_to_follow__lte=F("rejected")),
                violation_error_message="Only what was rejected is brought again.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.accepted} of {self.item}"


class ReceiptPhoto(models.Model):
    """A photograph of what came, without the place and device that cameras write into it."""

    receipt = models.ForeignKey(Receipt, models.PROTECT, related_name="photos")
    line = models.ForeignKey(
        ReceiptLine, models.PROTECT, null=True, blank=True, related_name="photos"
    )
    picture = models.FileField(upload_to="receipts/%Y/%m")
    added_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["receipt", "pk"]

    def __str__(self) -> str:
        return f"Photograph of {self.receipt}"
