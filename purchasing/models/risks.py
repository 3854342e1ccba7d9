"""What was worked out about lots at risk, kept until it is worked out again."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q

from inventory.fields import Quantity, UnitCost
from inventory.models import Location, Lot

# A chance below this is not worth a place on the board (own choice).
CALM = Decimal("0.05")


class UseByLook(models.Model):
    """One look at every lot with a use-by in sight. Asked for, claimed with a lease, done."""

    key = models.CharField(max_length=60, unique=True, help_text="The hour, or who asked.")
    asked_at = models.DateTimeField()
    claimed_by = models.CharField(max_length=36, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    # Lots with a higher number came later and were not looked at.
    newest_lot = models.PositiveBigIntegerField(default=0)
    until = models.DateField(null=True, blank=True, help_text="Use-by dates in sight.")

    class Meta:
        indexes = [
            models.Index(
                fields=["asked_at"], condition=Q(done_at__isnull=True), name="use_by_look_to_do"
            ),
            models.Index(fields=["done_at"], name="use_by_look_done"),
        ]

    def __str__(self) -> str:
        return self.key


class LotRisk(models.Model):
    """One lot at one place as a look found it; ``position``: most money at risk first."""

    look = models.ForeignKey(UseByLook, models.CASCADE, related_name="risks")
    position = models.PositiveIntegerField()
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    location = models.ForeignKey(Location, models.PROTECT, related_name="+")
    expected = Quantity(help_text="Base units that will not be used in time.")
    chance = Quantity(help_text="That some of it will not, 0 to 1.")
    cost = UnitCost(null=True, blank=True)
    move_to = models.ForeignKey(Location, models.PROTECT, null=True, blank=True, related_name="+")
    move_qty = Quantity(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["look", "lot", "location"], name="lot_risk_once"),
            # also the order of the board
            models.UniqueConstraint(fields=["look", "position"], name="lot_risk_in_order"),
            models.CheckConstraint(
                name="lot_risk_is_a_chance",
                condition=Q(expected__gte=0, chance__gte=0, chance__lte=1, move_qty__gte=0),
            ),
        ]
        indexes = [
            # the board of people of one place
            models.Index(fields=["look", "location", "position"], name="lot_risk_at_place"),
            # how many will be used in time
            models.Index(fields=["look", "chance"], name="lot_risk_calm"),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.lot} at {self.location}"
