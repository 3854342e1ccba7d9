"""What grows without end is cut back: answers to requests, and runs that led to no order."""

from __future__ import annotations

from datetime import datetime, timedelta

from inventory.services.acts import forget_old
from purchasing.models import ReorderRun

# Runs outgrow the ledger (items x places x reasons a run); what was ordered stays explained.
RUNS_KEPT_DAYS = 90


def tidy(*, at: datetime) -> None:
    """Drop answers nobody asks for again, and old runs behind no approved order. Each is one
    short transaction; doing it twice does nothing."""
    forget_old(at=at)
    old = ReorderRun.objects.filter(as_of__lt=at - timedelta(days=RUNS_KEPT_DAYS))
    # one at a time: a run has a line for every item and place
    for run in old.exclude(orders__approved_at__isnull=False).order_by("pk"):
        run.delete()
