"""Moments as people type them: on the wall clock of the business."""

from __future__ import annotations

from datetime import UTC, date, datetime

from django.core.management.base import CommandError

from inventory.engine.dates import BusinessClock


def moment(text: str, clock: BusinessClock) -> datetime:
    """``YYYY-MM-DDTHH:MM`` in the business's zone, seconds allowed."""
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        raise CommandError(
            f"--as-of: '{text}' is not a moment; a moment is YYYY-MM-DDTHH:MM"
        ) from None
    if local.tzinfo is not None:
        return local.astimezone(UTC)
    return datetime.fromtimestamp(clock.instant(local.date(), local.time()), UTC)


def day(text: str) -> date:
    """``YYYY-MM-DD``; the hour of a moment is left out."""
    try:
        return datetime.fromisoformat(text).date()
    except ValueError:
        raise CommandError(f"--as-of: '{text}' is not a date; a date is YYYY-MM-DD") from None
