"""Who sells to the kitchen, and when they take orders and deliver."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Money
from inventory.models.words import code_field, weekdays_field


class Supplier(models.Model):
    class BelowMinimum(models.TextChoices):
        REFUSE = "refuse", "refuses"
        FEE = "fee", "charges the fee"

    code = code_field()
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    account = models.CharField(max_length=40, blank=True)
    order_days = weekdays_field()
    cutoff = models.TimeField()
    lead_days = models.PositiveIntegerField()
    delivery_days = weekdays_field()
    arrives = models.TimeField(
        null=True, blank=True, help_text="Empty: before the day's first use."
    )
    minimum_order = Money(null=True, blank=True)
    below_minimum = models.CharField(max_length=6, choices=BelowMinimum.choices, blank=True)
    delivery_fee = Money(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                name="supplier_amounts_not_negative",
                condition=(Q(minimum_order__isnull=True) | Q(minimum_order__gte=0))
                & (Q(delivery_fee__isnull=True) | Q(delivery_fee__gte=0)),
                violation_error_message="Minimum order and fee are amounts of 0 or more.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SupplierClosure(models.Model):
    """A day on which a supplier takes no orders and makes no deliveries."""

    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="closures")
    date = models.DateField()

    class Meta:
        ordering = ["supplier", "date"]
        constraints = [
            models.UniqueConstraint(fields=["supplier", "date"], name="supplier_closure_once")
        ]

    def __str__(self) -> str:
        return f"{self.supplier} closed {self.date}"
