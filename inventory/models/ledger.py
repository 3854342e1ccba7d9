"""The ledger: what moved, and what is therefore on hand.

Only ``services.ledger`` writes these tables. Movements are append-only; the database refuses
an update or a delete by trigger.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.fields import Quantity
from inventory.models.items import Item
from inventory.models.lots import Lot
from inventory.models.places import Location


class Movement(models.Model):
    class Kind(models.TextChoices):
        OPENING = "opening", "opening balance"
        RECEIPT = "receipt", "received"
        MADE = "made", "made"
        BATCH_INPUT = "batch_input", "used in a batch"
        USAGE = "usage", "used"
        TAKE_OUT = "take_out", "taken out"
        SENT = "sent", "sent"
        ARRIVED = "arrived", "arrived"
        COUNT = "count", "count difference"
        SPLIT = "split", "moved to a part of the lot"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    item = models.ForeignKey(Item, models.PROTECT, related_name="movements")
    location = models.ForeignKey(Location, models.PROTECT, related_name="movements")
    qty = Quantity(help_text="Base units; negative: out.")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    # An opening balance has no moment: it is the state before the first movement.
    happened_at = models.DateTimeField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    reference = models.CharField(max_length=80, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    # The manager whose word, with the reason, let a lot on hold or past use-by be used.
    allowed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    assumed = models.BooleanField(default=False, help_text="Drawn by recipe, not seen.")
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    typed_qty = Quantity(null=True, blank=True)
    typed_unit = models.CharField(max_length=20, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="movement_moves_something", condition=~Q(qty=0)),
            models.CheckConstraint(
                name="movement_has_a_moment",
                condition=Q(kind="opening") | Q(happened_at__isnull=False),
            ),
            models.CheckConstraint(
                name="movement_recorded_after_it_happened",
                condition=Q(happened_at__isnull=True) | Q(happened_at__lte=F("recorded_at")),
                violation_error_message="A movement is recorded when it has happened.",
            ),
            models.CheckConstraint(
                name="movement_allowed_for_a_reason",
                condition=Q(allowed_by__isnull=True) | ~Q(reason=""),
                violation_error_message="A manager who allows a use says why.",
            ),
        ]
        indexes = [
            models.Index(fields=["lot", "location", "happened_at"], name="movement_lot"),
            models.Index(fields=["item", "location", "happened_at"], name="movement_item"),
            models.Index(fields=["reference"], name="movement_reference"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.qty} of {self.lot} at {self.location}"


class OnHand(models.Model):
    """Lot x location, changed in the same transaction as its movements."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="on_hand")
    item = models.ForeignKey(Item, models.PROTECT, related_name="on_hand")
    location = models.ForeignKey(Location, models.PROTECT, related_name="on_hand")
    qty = Quantity(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "location"], name="on_hand_once"),
            models.CheckConstraint(
                name="on_hand_not_negative",
                condition=Q(qty__gte=0),
                violation_error_message="There is not that much on hand.",
            ),
        ]
        indexes = [
            # what is there: skips the rows of lots long gone
            models.Index(
                fields=["location", "item"], condition=Q(qty__gt=0), name="on_hand_present"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.qty} of {self.lot} at {self.location}"


class UnexplainedUse(models.Model):
    """Reported use that no lot covered, until a load-out, a correction or a count clears it."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    location = models.ForeignKey(Location, models.PROTECT, related_name="+")
    qty = Quantity(help_text="Base units.")
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    reference = models.CharField(max_length=80, blank=True)
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_by = models.CharField(max_length=80, blank=True, help_text="What cleared it.")

    class Meta:
        constraints = [
            models.CheckConstraint(name="unexplained_use_positive", condition=Q(qty__gt=0)),
            models.CheckConstraint(
                name="unexplained_use_cleared_by_something",
                condition=Q(cleared_at__isnull=True, cleared_by="")
                | (Q(cleared_at__isnull=False) & ~Q(cleared_by="")),
            ),
        ]
        indexes = [
            models.Index(
                fields=["location", "item"],
                condition=Q(cleared_at__isnull=True),
                name="unexplained_open",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.qty} of {self.item} at {self.location} not explained"
