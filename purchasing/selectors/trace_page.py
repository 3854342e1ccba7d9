"""The trace of one strip, with what may be done about it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from inventory.models import Hold
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.selectors.business import business
from inventory.selectors.measures import item_measures
from purchasing import words
from purchasing.selectors.trace import trace
from purchasing.selectors.trace_told import Teller, Told


@dataclass(frozen=True, slots=True)
class TracePage:
    """``held_here``: the lot itself is on hold everywhere already. ``hold_at``: the place a
    press holds it at, empty: everywhere; None: this person may not hold it."""

    told: Told
    made_at: str
    held_everywhere: bool
    hold_at: str | None
    hold_where: str
    may_read_all: bool


def trace_page(strip: str, viewer: Viewer, now: datetime) -> TracePage:
    """Raises ``NotThere``."""
    lot = seen.only(seen.lots(viewer), strip=strip.upper())
    house = business()
    found = trace(lot)
    local = house.clock.local(int(now.timestamp()))
    everywhere = Hold.objects.still_open().filter(lot=lot, location=None).exists()
    own = next((row for row in lot.on_hand.all() if viewer.may(Act.HOLD, row.location_id)), None)
    everybody = viewer.may_everywhere(Act.HOLD)
    here = own.location.code if own else None
    return TracePage(
        told=Teller(item_measures(), house.clock).tell(found),
        made_at=f"{words.day_name(local.date())}, {local:%H:%M}",
        held_everywhere=everywhere,
        hold_at="" if everybody else here,
        hold_where=own.location.name if own and not everybody else "",
        may_read_all=viewer.may_everywhere(Act.LOG),
    )
