"""Events: who did what, written in the transaction of the act."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from inventory.models import Event
from inventory.services.ledger import demand_transaction

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def note(
    verb: str,
    subject: str,
    *,
    by: User | None,
    at: datetime,
    changes: Mapping[str, object] | None = None,
    device: str = "",
) -> Event:
    """``subject`` is table and code, such as ``lot:KALUM``; ``changes`` what became of what."""
    demand_transaction()
    return Event.objects.create(
        verb=verb, subject=subject, by=by, at=at, device=device, changes=dict(changes or {})
    )
