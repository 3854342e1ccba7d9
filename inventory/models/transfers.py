"""Goods on their way between locations: sent = arrived + missing."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.fields import Quantity
from inventory.models.lots import Lot
from inventory.models.places import Location
from inventory.models.stops import Stop


class Transfer(models.Model):
    class Kind(models.TextChoices):
        LOAD_OUT = "load_out", "load-out"
        RETURN = "return", "return"
        BETWEEN = "between", "between sites"
        HAND_OVER = "hand_over", "hand-over"

    number = models.CharField(max_length=40, unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    source = models.ForeignKey(Location, models.PROTECT, related_name="+")
    target = models.ForeignKey(Location, models.PROTECT, related_name="+")
    stop = models.ForeignKey(Stop, models.PROTECT, null=True, blank=True, related_name="load_outs")
    leaves_on = models.DateField()
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    arrived_at = models.DateTimeField(null=True, blank=True)
    arrived_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="transfer_goes_somewhere", condition=~Q(source=F("target"))
            ),
            models.CheckConstraint(
                name="transfer_sent_before_arrived",
                condition=Q(arrived_at__isnull=True) | Q(sent_at__isnull=False),
            ),
        ]
        indexes = [
            models.Index(
                fields=["target"],
                condition=Q(sent_at__isnull=False, arrived_at__isnull=True),
                name="transfer_on_its_way",
            )
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def reference(self) -> str:
        """What its movements refer to."""
        return f"transfer:{self.number}"


class TransferLine(models.Model):
    transfer = models.ForeignKey(Transfer, models.CASCADE, related_name="lines")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="transfer_lines")
    sent = Quantity()
    arrived = Quantity(null=True, blank=True)
    missing = Quantity(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["transfer", "lot"], name="transfer_line_once"),
            models.CheckConstraint(name="transfer_line_positive", condition=Q(sent__gt=0)),
            models.CheckConstraint(
                name="transfer_sent_is_arrived_and_missing",
                condition=Q(arrived__isnull=True, missing__isnull=True)
                # a check that comes to null lets the row pass: nulls are told apart first
                | Q(
                    arrived__isnull=False,
                    missing__isnull=False,
                    arrived__gte=0,
                    missing__gte=0,
                    sent=F("arrived") + F("missing"),
                ),
                violation_error_message="Sent is arrived plus missing.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sent} of {self.lot}"
