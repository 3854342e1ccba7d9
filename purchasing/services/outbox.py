"""Sendings as an outbox: a row that is neither sent nor stopped waits. Claimed by a conditional
update with a lease, sent, marked; a claim that was lost runs out, and the message sent then
says that it may be a second copy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import Q

from inventory.problems import Problem, Refused
from inventory.services.ledger import demand_transaction
from purchasing.models import PurchaseOrder, Sending

MOST_TRIES = 5


@dataclass(frozen=True, slots=True)
class Claim:
    """``tries``: how often it was claimed, this time included; it names the claim."""

    sending_id: int
    order_id: int
    tries: int

    @property
    def may_be_a_copy(self) -> bool:
        return self.tries > 1


def claim_next(*, at: datetime) -> Claim | None:
    """The longest waiting, taken by one conditional update: one claimant each."""
    free = Q(claimed_until__isnull=True) | Q(claimed_until__lt=at)
    waiting = Sending.objects.waiting().filter(free, how=Sending.How.EMAIL)
    for row in waiting.order_by("asked_at", "pk")[:20]:
        mine = Sending.objects.waiting().filter(free, pk=row.pk, tries=row.tries)
        until = at + timedelta(seconds=settings.CLAIM_SECONDS)
        if mine.update(claimed_until=until, tries=row.tries + 1, failure=""):
            return Claim(row.pk, row.order_id, row.tries + 1)
    return None


def mark_sent(claim: Claim, *, at: datetime) -> bool:
    """Whether the claim still held."""
    demand_transaction()
    mine = Sending.objects.waiting().filter(pk=claim.sending_id, tries=claim.tries)
    return bool(mine.update(sent_at=at, claimed_until=None, failure=""))


def note_failure(claim: Claim, why: str, *, for_good: bool, at: datetime) -> None:
    """Tried again when the lease has run out, unless there is no use or it was tried often."""
    mine = Sending.objects.waiting().filter(pk=claim.sending_id, tries=claim.tries)
    stopped = at if for_good or claim.tries >= MOST_TRIES else None
    mine.update(failure=why[:300], stopped_at=stopped)


def stop_waiting(order: PurchaseOrder, *, at: datetime) -> None:
    """What waits to be sent is stopped. Refused while it is being sent."""
    demand_transaction()
    waiting = Sending.objects.waiting().filter(order=order)
    free = Q(claimed_until__isnull=True) | Q(claimed_until__lt=at) | ~Q(failure="")
    waiting.filter(free).update(stopped_at=at)
    if waiting.exists():
        message = (
            f"{order.number} is being sent at this moment. Look again in a minute; if it went "
            f"out, ring the supplier."
        )
        raise Refused(Problem("being_sent", message))
