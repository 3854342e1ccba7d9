"""What is worked out about the past beside the pages, and kept to be read."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q


class Finding(models.Model):
    """Asked for, claimed with a lease, done: with an answer, or a sentence why there is none."""

    class Kind(models.TextChoices):
        FORECASTS = "forecasts", "how good the forecasts were"
        PAR_TIPS = "par_tips", "pars that would have done"

    kind = models.CharField(max_length=12, choices=Kind.choices)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    claimed_by = models.CharField(max_length=36, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    problem = models.CharField(max_length=500, blank=True, help_text="Why there is no answer.")
    answer: models.JSONField[Any, Any] = models.JSONField(null=True, blank=True)

    class Meta:
        constraints = [
            # also the tick's question: asked for, not done
            models.UniqueConstraint(
                fields=["kind"], condition=Q(done_at__isnull=True), name="finding_asked_once"
            ),
            models.CheckConstraint(
                name="finding_answered_when_done",
                condition=Q(answer__isnull=True) | Q(done_at__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["kind", "-done_at"], name="finding_newest")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, asked {self.asked_at:%Y-%m-%d %H:%M}"
