"""Who did what, and which requests have been answered."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models


class Event(models.Model):
    """One act: who, when, verb, object, changed fields; written with the act itself."""

    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    device = models.CharField(max_length=80, blank=True)
    verb = models.CharField(max_length=40)
    subject = models.CharField(max_length=120, help_text="Table and code, such as order:S1-1.")
    changes: models.JSONField[Any, Any] = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["subject", "at"], name="event_subject")]

    def __str__(self) -> str:
        return f"{self.at} {self.verb} {self.subject}"


class Submission(models.Model):
    """The answer to one request, so that a second press gets the first answer."""

    key = models.CharField(max_length=80, unique=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    what = models.CharField(max_length=80)
    body_digest = models.CharField(max_length=64)
    answer: models.JSONField[Any, Any] = models.JSONField(default=dict)
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.what} {self.key}"
