"""Days that somebody asked to have replayed, and what came of it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class Replay(models.Model):
    """Asked for, claimed with a lease, worked out beside the pages, day by day. It ends with an
    answer, stopped by a person, or with a sentence that says why there is none."""

    first = models.DateField()
    last = models.DateField()
    policies: models.JSONField[Any, Any] = models.JSONField(default=list)
    seed = models.BigIntegerField(default=1)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    claimed_by = models.CharField(max_length=36, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    begun_at = models.DateTimeField(null=True, blank=True)
    reached = models.DateField(null=True, blank=True, help_text="The last day done.")
    stop_asked_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    problem = models.CharField(max_length=500, blank=True, help_text="Why there is no answer.")
    # What the command prints, and the value in stock each night by policy.
    answer: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="replay_days_in_order",
                condition=Q(first__lte=F("last")),
                violation_error_message="The first day comes before the last.",
            ),
            models.CheckConstraint(
                name="replay_answered_when_ended",
                condition=Q(answer__isnull=True) | Q(ended_at__isnull=False),
            ),
        ]
        indexes = [
            # the tick's question: asked for, not ended
            models.Index(
                fields=["asked_at"], condition=Q(ended_at__isnull=True), name="replay_to_do"
            )
        ]

    def __str__(self) -> str:
        return f"Replay of {self.first} to {self.last}"
