"""The scheduled task: drafts before each supplier's cutoff, and after a change.

The database says what is due. Moments are computed in the business's zone and stored as
columns; a moment is claimed, worked and marked, and a claim that was lost runs out.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q

from inventory.engine.dates import BusinessClock
from inventory.selectors.business import business
from purchasing.models import DueMoment, Supplier
from purchasing.services.reorder import draw_up_orders
from purchasing.services.tidying import tidy

LOOK_AHEAD_DAYS = 2
KEPT_DAYS = 30


def do_what_is_due(*, at: datetime) -> int:
    """Draw up fresh drafts if a moment has come. Returns how many moments were done."""
    note_cutoffs(at=at)
    claim = _claim(at)
    if claim is None:
        return 0
    draw_up_orders(as_of=at)
    tidy(at=at)
    return DueMoment.objects.filter(claimed_by=claim, done_at__isnull=True).update(done_at=at)


def ask_for_fresh_drafts(*, at: datetime, why: str) -> None:
    """Something the drafts rest on changed: the next tick draws them up again."""
    DueMoment.objects.create(key=f"change:{uuid.uuid4()}", kind=DueMoment.Kind.CHANGE, due_at=at)


@transaction.atomic(durable=True)
def note_cutoffs(*, at: datetime) -> None:
    """Write down the moments before the cutoffs of the next days; calendars may have changed,
    so moments that no cutoff stands behind any more are dropped."""
    moments = {moment.key: moment for moment in _moments(at)}
    upcoming = DueMoment.objects.exclude(kind=DueMoment.Kind.CHANGE).filter(done_at__isnull=True)
    known = set(upcoming.values_list("key", flat=True))
    if gone := known - moments.keys():
        upcoming.filter(key__in=gone).delete()
    if new := [moment for key, moment in moments.items() if key not in known]:
        DueMoment.objects.bulk_create(new, ignore_conflicts=True)
    DueMoment.objects.filter(done_at__lt=at - timedelta(days=KEPT_DAYS)).delete()


def _moments(at: datetime) -> Iterator[DueMoment]:
    clock = BusinessClock(business().time_zone)
    today = clock.day_of(int(at.timestamp()))
    for supplier in Supplier.objects.filter(retired_on__isnull=True).prefetch_related("closures"):
        closed = {closure.date for closure in supplier.closures.all()}
        for offset in range(LOOK_AHEAD_DAYS + 1):
            day = today + timedelta(days=offset)
            if day.weekday() in supplier.order_days and day not in closed:
                yield from _before_cutoff(supplier, day, clock, at)


def _before_cutoff(
    supplier: Supplier, day: date, clock: BusinessClock, at: datetime
) -> Iterator[DueMoment]:
    cutoff = datetime.fromtimestamp(clock.instant(day, supplier.cutoff), UTC)
    if cutoff < at:
        return
    for kind, minutes in (
        (DueMoment.Kind.FIRST_DRAFT, settings.FIRST_DRAFT_MINUTES),
        (DueMoment.Kind.LAST_DRAFT, settings.LAST_DRAFT_MINUTES),
    ):
        yield DueMoment(
            key=f"{kind}:{supplier.code}:{cutoff:%Y%m%dT%H%M%SZ}",
            kind=kind,
            due_at=cutoff - timedelta(minutes=minutes),
        )


def _claim(at: datetime) -> str | None:
    """Claim every due moment that nobody works on; one conditional update, so a moment goes
    to one claimant. Returns the claim, None if there was nothing to claim."""
    claim = str(uuid.uuid4())
    claimed = (
        DueMoment.objects.filter(due_at__lte=at, done_at__isnull=True)
        .filter(Q(claimed_until__isnull=True) | Q(claimed_until__lt=at))
        .update(
            claimed_by=claim,
            claimed_until=at + timedelta(seconds=settings.CLAIM_SECONDS),
        )
    )
    return claim if claimed else None
