"""What is worked out about the past: asked for on a page, done by the tick, kept to be read."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet

from inventory.problems import Refused
from inventory.selectors.business import business
from inventory.services.acts import one_act
from inventory.services.log import note
from inventory.services.turns import one_at_a_time
from purchasing.models import Finding
from purchasing.selectors.forecast_record import forecast_record
from purchasing.selectors.par_tips import work_out_tips

if TYPE_CHECKING:
    from django.contrib.auth.models import User

AGAIN_AFTER = timedelta(days=7)
KEPT = 5  # of each kind; older ones are forgotten
FAILED = (
    "The program failed at it; the worker's log says how. Tell whoever looks after the machine."
)

Clock = Callable[[], datetime]
_WORK: Mapping[str, Callable[[date], dict[str, Any]]] = {
    Finding.Kind.FORECASTS: forecast_record,
    Finding.Kind.PAR_TIPS: work_out_tips,
}


@one_act
def ask_finding(kind: str, *, by: User | None, at: datetime) -> None:
    """The next tick works it out; asking twice before then is asking once."""
    one_at_a_time("finding")
    if _waiting().filter(kind=kind).exists():
        return
    Finding.objects.create(kind=kind, asked_at=at, asked_by=by)
    note("asked", f"finding:{kind}", by=by, at=at)


def _waiting() -> QuerySet[Finding]:
    return Finding.objects.filter(done_at__isnull=True)


def find_if_asked(*, clock: Clock) -> list[str]:
    """Work out what waits, and again a week later what somebody once asked for: the kinds done.
    Nothing is locked meanwhile; a lost worker's lease runs out."""
    _ask_again(clock())
    kinds = list[str]()
    while (mine := _claimed(clock())) is not None:
        _work_out(mine, clock)
        kinds.append(mine.kind)
    return kinds


def _work_out(mine: Finding, clock: Clock) -> None:
    try:
        answer = _WORK[mine.kind](business().day_of(clock()))
    except Refused as refused:
        problem = " ".join(one.message for one in refused.problems)[:500]
        _keep(mine, clock(), problem=problem)
    except Exception:
        _keep(mine, clock(), problem=FAILED)  # and not again and again
        raise
    else:
        _keep(mine, clock(), answer=answer)


def _ask_again(at: datetime) -> None:
    for kind in Finding.Kind.values:
        rows = Finding.objects.filter(kind=kind)
        newest = rows.order_by("-asked_at").first()
        if newest is not None and newest.done_at and newest.asked_at <= at - AGAIN_AFTER:
            Finding.objects.bulk_create([Finding(kind=kind, asked_at=at)], ignore_conflicts=True)


def _claimed(at: datetime) -> Finding | None:
    claim, until = str(uuid.uuid4()), at + timedelta(seconds=settings.CLAIM_SECONDS)
    free = _waiting().filter(Q(claimed_until__isnull=True) | Q(claimed_until__lt=at))
    first = free.order_by("asked_at", "pk").first()
    if first is None:
        return None
    if not free.filter(pk=first.pk).update(claimed_by=claim, claimed_until=until):
        return None  # another worker was quicker
    return _waiting().filter(claimed_by=claim).first()


@transaction.atomic(durable=True)
def _keep(mine: Finding, at: datetime, **what: object) -> None:
    """Nothing is written where another worker has it by now."""
    _waiting().filter(pk=mine.pk, claimed_by=mine.claimed_by).update(done_at=at, **what)
    done = Finding.objects.filter(kind=mine.kind, done_at__isnull=False)
    kept = list(done.order_by("-done_at", "-pk").values_list("pk", flat=True)[:KEPT])
    done.exclude(pk__in=kept).delete()
