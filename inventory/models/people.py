"""Who may do what, where, and from which shared device."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.fields import Money
from inventory.models.places import Location
from inventory.models.words import unique_with_blank


class Membership(models.Model):
    class Role(models.TextChoices):
        BUYER = "buyer", "buyer"
        STAFF = "staff", "commissary staff"
        PREP_LEAD = "prep_lead", "prep lead"
        TRUCK_LEAD = "truck_lead", "truck lead"
        MANAGER = "manager", "manager"
        OWNER = "owner", "owner"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role.choices)
    location = models.ForeignKey(
        Location, models.PROTECT, null=True, blank=True, help_text="Empty: every location."
    )
    approve_up_to = Money(null=True, blank=True, help_text="Empty: no limit.")
    sees_cost = models.BooleanField(default=False)

    class Meta:
        constraints = [
            *unique_with_blank("membership_once", ["user", "role", "location"], blank="location"),
            models.CheckConstraint(
                name="membership_limit_not_negative",
                condition=Q(approve_up_to__isnull=True) | Q(approve_up_to__gte=0),
                violation_error_message="The approval limit is an amount of 0 or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()} at {self.location or 'every location'}"


class PersonalNumber(models.Model):
    """Four to eight digits by which a person signs in at a shared device, and nowhere else."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, models.CASCADE, related_name="personal_number"
    )
    digest = models.CharField(max_length=128)
    set_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Personal number of {self.user}"


class Device(models.Model):
    """A shared tablet or phone; the person is named by a short personal number at the act."""

    name = models.CharField(max_length=80, unique=True)
    token_digest = models.CharField(max_length=128, unique=True)
    location = models.ForeignKey(Location, models.PROTECT, null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class ApiToken(models.Model):
    """By which a program asks in a person's name; shown once, kept as a digest."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="api_tokens")
    name = models.CharField(max_length=80, help_text="What it is for.")
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    last_used_on = models.DateField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["user", "created_at"]

    def __str__(self) -> str:
        return f"{self.name} of {self.user}"
