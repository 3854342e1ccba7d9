"""Waking a worker early. The tables say what is to do; a lost message changes nothing."""

from __future__ import annotations

from celery import current_app
from kombu.exceptions import OperationalError

TICK = "purchasing.tasks.tick"
SECONDS = 60  # by then the next tick has come anyway


def wake() -> None:
    """Ask a worker to look now; without a broker the next tick finds the work."""
    try:
        current_app.send_task(TICK, expires=SECONDS, retry=False)
    except (OSError, OperationalError):
        return
