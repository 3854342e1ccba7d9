"""A press on the use-by board is of what the board said: refused where that is no longer so."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.models import OnHand
from inventory.problems import Problem, Refused
from inventory.roles import Viewer
from inventory.services.ledger import demand_transaction
from purchasing import words
from purchasing.selectors.use_by_page import BoardStrip, strip_now


@dataclass(frozen=True, slots=True)
class Pressed:
    """``sends``: the value of the button; ``there``: as the page had it, exactly."""

    strip: str
    place_code: str
    sends: str
    there: str


def demand_as_seen(viewer: Viewer, pressed: Pressed, *, at: datetime) -> None:
    """A step of the act that follows, in its transaction. Raises ``Refused``, as stale, with
    what changed; what is no longer there at all is left to the act to refuse."""
    demand_transaction()
    _keep_still(pressed)
    found = strip_now(viewer, pressed.strip, pressed.place_code, at)
    if found is None:
        return
    offered = {one.sends for one in found.choices if one.sends}
    if found.exact != pressed.there or pressed.sends not in offered:
        raise Refused(_changed(found, pressed))


def _keep_still(pressed: Pressed) -> None:
    """Two who press at once: the second waits and then sees what the first did."""
    rows = OnHand.objects.select_for_update(of=("self",))
    list(rows.filter(lot__strip=pressed.strip.upper(), location__code=pressed.place_code))


def _changed(found: BoardStrip, pressed: Pressed) -> Problem:
    said = [f"{found.item} {found.strip} at {found.place} is not as it was on your page"]
    if before := _before(found, pressed):
        said.append(f"{before} was there, {found.there} is there now")
    said += [one for one in (found.note, found.lost) if one]
    message = f"{'; '.join(said)}. Nothing was done. Press what helps now, if it still should be."
    facts = {"lot": found.strip, "location": found.place_code, "there": found.exact}
    return Problem("stale", message, "", facts)


def _before(found: BoardStrip, pressed: Pressed) -> str:
    """How much the page had, where that is another figure."""
    try:
        was = Decimal(pressed.there[:40])
    except ArithmeticError:
        return ""
    is_other = was.is_finite() and pressed.there != found.exact
    return words.quantity(was, found.unit) if is_other else ""
