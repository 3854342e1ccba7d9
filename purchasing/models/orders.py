"""Purchase orders, how they were sent, and what the supplier answered."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.fields import Money, Quantity
from inventory.models import Item, Location
from purchasing.models.offers import Offer
from purchasing.models.runs import ReorderRun
from purchasing.models.suppliers import Supplier


class PurchaseOrderQuerySet(models.QuerySet["PurchaseOrder"]):
    def drafts(self) -> PurchaseOrderQuerySet:
        return self.filter(status=PurchaseOrder.Status.DRAFT)

    def on_order(self) -> PurchaseOrderQuerySet:
        """Approved, sent or partly in: drafts never count (R4)."""
        return self.filter(status__in=[PurchaseOrder.Status.APPROVED, PurchaseOrder.Status.SENT])


class PurchaseOrder(models.Model):
    class Status(models.TextChoices):
        DRAFT = "draft", "draft"
        APPROVED = "approved", "approved"
        SENT = "sent", "sent"
        RECEIVED = "received", "received"
        SETTLED = "settled", "settled"
        CANCELLED = "cancelled", "cancelled"

    number = models.CharField(max_length=60, unique=True)
    reference = models.CharField(
        max_length=50, blank=True, help_text="The number it came with, where it was not ours."
    )
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="orders")
    location = models.ForeignKey(Location, models.PROTECT, related_name="orders")
    delivery = models.DateField()
    next_delivery = models.DateField(null=True, blank=True)
    order_by = models.DateTimeField(null=True, blank=True)
    last_order_by = models.DateTimeField(null=True, blank=True)
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.DRAFT)
    decision = models.CharField(max_length=24, blank=True, help_text="What of the minimum.")
    # The way taken to the minimum and the next best with their costs, where there were two.
    weighed: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)
    run = models.ForeignKey(
        ReorderRun, models.SET_NULL, null=True, blank=True, related_name="orders"
    )
    adds_to = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    # Raised by every write, so that a stale form is noticed.
    version = models.PositiveIntegerField(default=1)
    touched = models.BooleanField(default=False, help_text="A person changed this draft.")
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    # A person let this delivery pass: later runs leave the draft alone.
    skipped_at = models.DateTimeField(null=True, blank=True)
    skipped_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    skipped_why = models.CharField(max_length=120, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    objects = PurchaseOrderQuerySet.as_manager()

    class Meta:
        ordering = ["delivery", "supplier", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["supplier", "location", "delivery"],
                condition=Q(status="draft"),
                name="one_open_draft",
                violation_error_message="There is an open draft for this delivery already.",
            ),
        ]
        indexes = [
            # orders due: drafts by cutoff
            models.Index(fields=["order_by"], condition=Q(status="draft"), name="draft_order_by"),
            # deliveries: what is coming
            models.Index(
                fields=["delivery"],
                condition=Q(status__in=["approved", "sent"]),
                name="order_coming",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def is_coming(self) -> bool:
        return self.status in (self.Status.APPROVED, self.Status.SENT)


class OrderLine(models.Model):
    """The pack and price are written on the line: a later change of the offer leaves it."""

    order = models.ForeignKey(PurchaseOrder, models.CASCADE, related_name="lines")
    offer = models.ForeignKey(Offer, models.PROTECT, related_name="order_lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="order_lines")
    cases = models.PositiveIntegerField()
    our_cases = models.PositiveIntegerField(
        null=True, blank=True, help_text="What we would order; kept beside a person's figure."
    )
    touched = models.BooleanField(default=False, help_text="A person set the cases.")
    touched_why = models.CharField(max_length=120, blank=True)
    pack_qty = Quantity()
    pack_unit = models.CharField(max_length=20)
    pack_base = Quantity(help_text="Base units of a case; nominal where it is catch weight.")
    price = Money()
    priced_per = models.CharField(max_length=20)
    priced_units = Quantity(help_text="Priced units of a case; 1 where priced per case.")
    confirmed_cases = models.PositiveIntegerField(null=True, blank=True)
    received_cases = Quantity(default=0)
    given_up_cases = Quantity(default=0)
    comes_on = models.DateField(
        null=True, blank=True, help_text="The supplier's word where it is not the order's day."
    )
    reasons: models.JSONField[Any, Any] = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["order", "item", "offer"]
        constraints = [
            models.UniqueConstraint(fields=["order", "offer"], name="order_line_once"),
            models.CheckConstraint(
                name="order_line_positive_pack",
                condition=Q(pack_qty__gt=0, pack_base__gt=0, priced_units__gt=0),
            ),
            models.CheckConstraint(
                name="order_line_cases_not_negative",
                condition=Q(received_cases__gte=0, given_up_cases__gte=0),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cases} x {self.item}"

    @property
    def value(self) -> Decimal:
        """Not rounded; nominal weight where it is catch weight."""
        return self.cases * self.price * self.priced_units

    @property
    def due(self) -> date:
        """The day on which it is expected; of a line read with its order."""
        return self.comes_on or self.order.delivery


class SendingQuerySet(models.QuerySet["Sending"]):
    def waiting(self) -> SendingQuerySet:
        return self.filter(sent_at__isnull=True, stopped_at__isnull=True)


class Sending(models.Model):
    """One way in which an order left; claimed, sent, marked. What is neither sent nor stopped
    waits: the row is the outbox. ``tries`` above 1: it may have been sent before."""

    class How(models.TextChoices):
        EMAIL = "email", "e-mail"
        PAPER = "paper", "printed sheet"
        PHONE = "phone", "by phone"
        FILE = "file", "file"
        ELSEWHERE = "elsewhere", "typed elsewhere"

    order = models.ForeignKey(PurchaseOrder, models.PROTECT, related_name="sendings")
    how = models.CharField(max_length=10, choices=How.choices)
    to = models.CharField(max_length=254, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    asked_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    failure = models.CharField(max_length=300, blank=True)
    tries = models.PositiveIntegerField(default=0)
    stopped_at = models.DateTimeField(null=True, blank=True)

    objects = SendingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["order"],
                condition=Q(sent_at__isnull=True, stopped_at__isnull=True),
                name="one_sending_waits",
                violation_error_message="This order is on its way already.",
            ),
            models.CheckConstraint(
                name="sending_after_asking",
                condition=Q(sent_at__isnull=True) | Q(sent_at__gte=F("asked_at")),
            ),
        ]
        indexes = [
            models.Index(
                fields=["asked_at"], condition=Q(sent_at__isnull=True), name="sending_to_do"
            )
        ]

    def __str__(self) -> str:
        return f"{self.order} {self.get_how_display()}"


class Answer(models.Model):
    """What the supplier said of one line."""

    class Says(models.TextChoices):
        CONFIRMED = "confirmed", "confirmed"
        SHORT = "short", "short"
        NOT_COMING = "not_coming", "not coming"
        SUBSTITUTE = "substitute", "substitute offered"
        NEW_DATE = "new_date", "another day"

    line = models.ForeignKey(OrderLine, models.PROTECT, related_name="answers")
    says = models.CharField(max_length=10, choices=Says.choices)
    cases = models.PositiveIntegerField(null=True, blank=True)
    substitute = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="+")
    new_date = models.DateField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["line", "at"]

    def __str__(self) -> str:
        return f"{self.line}: {self.get_says_display()}"
