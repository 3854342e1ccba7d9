"""What is due and not done: the queue of record behind the scheduled task."""

from __future__ import annotations

from django.db import models


class DueMoment(models.Model):
    """A moment at which fresh drafts are drawn up. Claimed by a conditional update with a
    lease: one that a lost worker claimed is found again when the lease has run out."""

    class Kind(models.TextChoices):
        FIRST_DRAFT = "first_draft", "first draft before a cutoff"
        LAST_DRAFT = "last_draft", "last draft before a cutoff"
        CHANGE = "change", "something it rests on changed"

    key = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    due_at = models.DateTimeField()
    claimed_by = models.CharField(max_length=36, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            # the tick's question: due, not done
            models.Index(
                fields=["due_at"], condition=models.Q(done_at__isnull=True), name="due_not_done"
            )
        ]

    def __str__(self) -> str:
        return self.key
