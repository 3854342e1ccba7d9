"""What is worked out beside the pages: how far it is, and whether anybody is at it, in words."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from purchasing.models import Finding

SILENT = timedelta(minutes=2)  # without a word, before it is said (own choice)


def newest(kind: str) -> tuple[Finding | None, Finding | None]:
    """The last finding done, and another that is waiting. One query."""
    rows = list(Finding.objects.filter(kind=kind).order_by("-asked_at", "-pk")[:6])
    done = next((row for row in rows if row.done_at is not None), None)
    return done, next((row for row in rows if row.done_at is None), None)


def finding_waits(waiting: Finding | None, now: datetime) -> str:
    """Empty: nothing is being worked out."""
    if waiting is None:
        return ""
    if waiting.claimed_until is None:
        return nobody_began(now - waiting.asked_at)
    if waiting.claimed_until < now:
        return worker_is_gone()
    return _("It takes a minute or two; the answer will stand here.")


def nobody_began(since: timedelta) -> str:
    if since < SILENT:
        return _("It waits for the worker.")
    minutes = int(since.total_seconds() // 60)
    return _(
        "Nobody has begun it for %(minutes)d minutes: the worker is at something else, or is not"
        " running. Ask whoever looks after the machine."
    ) % {"minutes": minutes}


def worker_is_gone() -> str:
    return _("The worker that was at it is gone; the next one begins again.")
