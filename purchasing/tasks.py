"""Tasks are interfaces: they call one service and may run twice."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from purchasing.services.due import do_what_is_due
from purchasing.services.sending import send_what_waits
from purchasing.services.use_by_looks import look_if_due


@shared_task(name="purchasing.tasks.tick")
def tick() -> None:
    """Do what is due now; safe to run at any time, by several at once."""
    send_what_waits(at=timezone.now())
    do_what_is_due(at=timezone.now())
    look_if_due(at=timezone.now())
