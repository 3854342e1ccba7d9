"""Lots: one delivery, batch or opening balance of one item, with one use-by date."""

from __future__ import annotations

from datetime import date, datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.fields import UnitCost
from inventory.models.items import Item
from inventory.models.places import Location, StorageArea
from inventory.models.words import unique_with_blank


class LotQuerySet(models.QuerySet["Lot"]):
    def not_past_use_by(self, day: date) -> LotQuerySet:
        """A lot is usable on its use-by date."""
        return self.filter(Q(use_by__isnull=True) | Q(use_by__gte=day))

    def first_expired_first(self) -> LotQuerySet:
        return self.order_by(
            F("use_by").asc(nulls_last=True), F("received_on").asc(nulls_last=True), "strip"
        )


class Lot(models.Model):
    class Origin(models.TextChoices):
        RECEIPT = "receipt", "received"
        BATCH = "batch", "made here"
        OPENING = "opening", "opening balance"
        PART = "part", "part of another lot"

    class State(models.TextChoices):
        FROZEN = "frozen", "frozen"
        THAWING = "thawing", "thawing"
        CHILLED = "chilled", "chilled"
        OPENED = "opened", "opened"
        AMBIENT = "ambient", "ambient"
        HOT = "hot", "hot"

    item = models.ForeignKey(Item, models.PROTECT, related_name="lots")
    strip = models.CharField(max_length=5, unique=True, help_text="Our own short lot number.")
    supplier_lot = models.CharField(max_length=40, blank=True)
    # The key under which the stock sheet finds an opening balance again.
    opening_key = models.CharField(max_length=200, unique=True, null=True, blank=True)
    received_on = models.DateField(null=True, blank=True)
    use_by = models.DateField(null=True, blank=True)
    unit_cost = UnitCost(null=True, blank=True)
    origin = models.CharField(max_length=8, choices=Origin.choices)
    state = models.CharField(max_length=8, choices=State.choices, blank=True)
    state_since = models.DateField(null=True, blank=True, help_text="Empty: since it came.")
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="parts")
    area = models.ForeignKey(StorageArea, models.PROTECT, null=True, blank=True)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["strip"]
        constraints = [
            models.CheckConstraint(
                name="lot_part_has_parent",
                condition=Q(origin="part", parent__isnull=False)
                | (~Q(origin="part") & Q(parent__isnull=True)),
                violation_error_message="A part of a lot names the lot it is a part of.",
            ),
            models.CheckConstraint(
                name="lot_not_part_of_itself",
                condition=Q(parent__isnull=True) | ~Q(parent=F("id")),
                violation_error_message="A lot is not a part of itself.",
            ),
            models.CheckConstraint(
                name="lot_cost_not_negative",
                condition=Q(unit_cost__isnull=True) | Q(unit_cost__gte=0),
                violation_error_message="A cost is 0 or more.",
            ),
        ]
        indexes = [
            # picking: usable lots of an item, first expired first
            models.Index(fields=["item", "use_by", "received_on"], name="lot_item_use_by"),
            models.Index(fields=["supplier_lot"], name="lot_supplier_lot"),
        ]

    def __str__(self) -> str:
        return self.strip


class Counter(models.Model):
    """How many of something were ever numbered; raised in the transaction that numbers."""

    name = models.CharField(max_length=40, primary_key=True)
    value = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.name}: {self.value}"


class HoldQuerySet(models.QuerySet["Hold"]):
    def still_open(self) -> HoldQuerySet:
        return self.filter(closed_at__isnull=True)

    def open_at(self, at: datetime) -> HoldQuerySet:
        return self.filter(Q(opened_at__isnull=True) | Q(opened_at__lte=at)).filter(
            Q(closed_at__isnull=True) | Q(closed_at__gt=at)
        )


class Hold(models.Model):
    class Reason(models.TextChoices):
        RECALL = "recall", "recall"
        TEMPERATURE = "temperature", "temperature"
        COMPLAINT = "complaint", "complaint"
        OTHER = "other", "other"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="holds")
    location = models.ForeignKey(
        Location, models.PROTECT, null=True, blank=True, help_text="Empty: everywhere."
    )
    reason = models.CharField(max_length=12, choices=Reason.choices)
    note = models.CharField(max_length=200, blank=True)
    # A hold that came with an opening balance has no moment: it was there before.
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = HoldQuerySet.as_manager()

    class Meta:
        constraints = [
            *unique_with_blank(
                "one_open_hold_per_lot_and_location",
                ["lot", "location"],
                blank="location",
                condition=Q(closed_at__isnull=True),
            ),
            models.CheckConstraint(
                name="hold_closes_after_it_opens",
                condition=Q(closed_at__isnull=True)
                | Q(opened_at__isnull=True)
                | Q(closed_at__gte=F("opened_at")),
            ),
        ]
        indexes = [
            # usable stock: open holds of a lot
            models.Index(fields=["lot"], condition=Q(closed_at__isnull=True), name="hold_open"),
        ]

    def __str__(self) -> str:
        return f"Hold on {self.lot} ({self.get_reason_display()})"
