"""Looks at lots at risk: once an hour and when somebody asks, never while a page waits."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.conf import settings
from django.db import transaction
from django.db.models import Max, Q, QuerySet

from inventory.fields import quantised
from inventory.models import Location, Lot
from inventory.selectors.business import business
from inventory.services.acts import one_act
from purchasing.models import LotRisk, UseByLook
from purchasing.selectors.use_by import DEFAULT_DAYS, LotAtRisk, lots_at_risk

_ROWS_AT_ONCE = 1000


def look_if_due(*, at: datetime) -> bool:
    """Work the board out if an hour has begun or somebody asked. Nothing is locked while it
    computes; a look that a lost worker claimed is claimed again when its lease has run out."""
    _note_hour(at)
    claim = _claim(at)
    if claim is None:
        return False
    day = business().day_of(at)
    newest = Lot.objects.aggregate(newest=Max("pk"))["newest"] or 0
    lots, _ = lots_at_risk(day, at=at)
    return _keep(claim, lots, newest, day + timedelta(days=DEFAULT_DAYS), at)


@one_act
def ask_for_look(*, at: datetime) -> None:
    """The next tick works it out again; asking twice before then is asking once. One that is
    being worked out already may not have seen what is asked about."""
    if not _waiting().filter(claimed_by="").exists():
        UseByLook.objects.create(key=f"asked:{uuid.uuid4()}", asked_at=at)


def _note_hour(at: datetime) -> None:
    house = business()
    hour = house.clock.local(int(at.timestamp()))
    key = f"hour:{hour:%Y-%m-%dT%H}"
    if not UseByLook.objects.filter(key=key).exists():
        UseByLook.objects.bulk_create([UseByLook(key=key, asked_at=at)], ignore_conflicts=True)


def _waiting() -> QuerySet[UseByLook]:
    return UseByLook.objects.filter(done_at__isnull=True)


def _claim(at: datetime) -> str | None:
    claim = str(uuid.uuid4())
    free = _waiting().filter(Q(claimed_until__isnull=True) | Q(claimed_until__lt=at))
    until = at + timedelta(seconds=settings.CLAIM_SECONDS)
    return claim if free.update(claimed_by=claim, claimed_until=until) else None


@transaction.atomic(durable=True)
def _keep(claim: str, lots: Sequence[LotAtRisk], newest: int, until: date, at: datetime) -> bool:
    """One look answers all that were claimed together; those before it are forgotten, but for
    their hours, which stay done."""
    mine = _waiting().filter(claimed_by=claim)
    look = mine.select_for_update().order_by("pk").first()
    if look is None:
        return False  # the lease ran out, and another worker has done it
    mine.update(done_at=at)
    UseByLook.objects.filter(pk=look.pk).update(newest_lot=newest, until=until)
    LotRisk.objects.exclude(look=look).delete()
    UseByLook.objects.filter(done_at__lt=at - timedelta(days=1)).delete()
    places = {place.code: place for place in Location.objects.all()}
    LotRisk.objects.bulk_create(
        (_row(look, position, lot, places) for position, lot in enumerate(lots)),
        batch_size=_ROWS_AT_ONCE,
    )
    return True


def _row(look: UseByLook, position: int, lot: LotAtRisk, places: dict[str, Location]) -> LotRisk:
    other = lot.elsewhere
    return LotRisk(
        look=look,
        position=position,
        lot_id=lot.lot_id,
        location_id=lot.location_id,
        expected=_exactly(lot.expected_waste),
        chance=_exactly(lot.chance),
        cost=None if lot.cost is None else _exactly(lot.cost),
        move_to=places[other.place] if other else None,
        move_qty=_exactly(other.qty) if other else Decimal(0),
    )


def _exactly(value: object) -> Decimal:
    """The one way of a figure of the engine into the tables."""
    return quantised(Decimal(repr(value)))
