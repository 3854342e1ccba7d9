"""One order taken in hand by one person: found, allowed, fresh; and written down afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from inventory.models import Event
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.services.ledger import demand_transaction
from inventory.services.log import note
from purchasing.models import PurchaseOrder

if TYPE_CHECKING:
    from django.contrib.auth.models import User

Status = PurchaseOrder.Status

_WHO = {
    Act.DRAFT: "A buyer or manager of {place} changes drafts.",
    Act.APPROVE: "A buyer or manager of {place} approves orders.",
    Act.SEND: "A buyer or manager of {place} sends orders and notes the answers.",
}


@dataclass(frozen=True, slots=True)
class Hand:
    """Who does something to an order, and when. ``version``: that of the page it was read on;
    None: whatever it is now."""

    viewer: Viewer
    by: User | None
    at: datetime
    version: int | None = None
    device: str = field(default="")


def take(number: str, hand: Hand, act: Act) -> PurchaseOrder:
    """The order, locked until the end of the act. ``NotThere`` where this person may not even
    see it; refused where they may not ``act`` or somebody changed it meanwhile."""
    demand_transaction()
    orders = PurchaseOrder.objects.select_for_update(of=("self",))
    order = orders.select_related("supplier", "location").filter(number=number).first()
    if order is None or not hand.viewer.may(Act.SEE, order.location_id):
        raise NotThere
    if not hand.viewer.may(act, order.location_id):
        sentence = _WHO[act].format(place=order.location.name)
        raise Refused(Problem("not_allowed", f"{sentence} Ask one of them."))
    if hand.version is not None and hand.version != order.version:
        raise Refused(_stale(order, hand.version))
    return order


def written(
    order: PurchaseOrder,
    hand: Hand,
    verb: str,
    fields: Iterable[str],
    changes: Mapping[str, object],
) -> None:
    """Store what was changed, one version on, with the event that says who and what."""
    order.version += 1
    order.save(update_fields=[*fields, "version"])
    facts = {"version": order.version, **changes}
    subject = f"order:{order.number}"
    note(verb, subject, by=hand.by, at=hand.at, changes=facts, device=hand.viewer.device)


def demand_status(order: PurchaseOrder, *allowed: PurchaseOrder.Status) -> None:
    """Refused, with the next step, where the order is in another state."""
    if order.status in allowed:
        return
    state = Status(order.status)
    raise Refused(Problem(f"is_{state.value}", _INSTEAD[state].format(order=order.number)))


_INSTEAD = {
    Status.DRAFT: "Order {order} is still a draft. Approve it first.",
    Status.APPROVED: "Order {order} is approved. Undo the approval, then change it.",
    Status.SENT: "Order {order} has been sent. Ring the supplier; note here what they answer.",
    Status.RECEIVED: "Order {order} has come in. What is missing is a matter of the delivery.",
    Status.SETTLED: "Order {order} is settled. Nothing of it changes any more.",
    Status.CANCELLED: "Order {order} was cancelled. Order what is needed in another one.",
}


def _stale(order: PurchaseOrder, seen: int) -> Problem:
    """What changed since, and by whom."""
    events = Event.objects.filter(subject=f"order:{order.number}", changes__version__gt=seen)
    told = [_told(event) for event in events.select_related("by").order_by("at", "pk")]
    what = " ".join(told) or "It was worked out again while you looked at it."
    message = f"{what} Nothing of yours was stored: look again, what you typed is still there."
    return Problem("stale", message, data={"version": order.version, "seen": seen})


def _told(event: Event) -> str:
    """Ines changed this order at 06:12: beef 3 to 5 cases."""
    person = event.by
    who = (person.get_full_name() or person.get_username()) if person else "Somebody"
    hour = business().clock.local(int(event.at.timestamp()))
    lines = event.changes.get("lines", {})
    cases = ", ".join(f"{item} {old} to {new} cases" for item, (old, new) in lines.items())
    verb = _VERBS.get(event.verb, event.verb.replace("_", " "))
    return f"{who} {verb} this order at {hour:%H:%M}{f': {cases}' if cases else ''}."


_VERBS = {
    "change": "changed",
    "add": "added a line to",
    "approve": "approved",
    "undo": "took back the approval of",
    "send": "asked to send",
    "sent": "sent",
    "answer": "noted the supplier's answer to",
    "give_up": "gave up a part of",
    "cancel": "cancelled",
    "skip": "skipped",
    "take_up": "took up",
    "receive": "received a part of",
}
