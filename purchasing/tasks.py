"""Tasks are interfaces: they call one service and may run twice."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from purchasing.services.due import do_what_is_due


@shared_task(name="purchasing.tasks.tick")
def tick() -> None:
    """Do what is due now; safe to run at any time, by several at once."""
    do_what_is_due(at=timezone.now())
