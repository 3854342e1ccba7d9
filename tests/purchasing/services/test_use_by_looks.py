"""Looks at lots at risk: when, once, and what is kept of them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Booking, Hold, Item, Location, Lot
from purchasing.models import LotRisk, UseByLook
from purchasing.services import use_by_looks
from purchasing.services.use_by_looks import ask_for_look, look_if_due
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


@pytest.fixture
def place() -> Location:
    return make.location(code="COM")


@pytest.fixture
def leeks() -> Item:
    return make.item(code="LEEK")


def lot(item: Item, place: Location, qty: int, days: int, cost: str = "0.01") -> Lot:
    use_by = TODAY + days * DAY
    return make.lot(qty, at=place, of=item, when=NOW - DAY, use_by=use_by, unit_cost=Decimal(cost))


def test_lots_are_kept_in_the_order_of_money_at_risk(place: Location, leeks: Item) -> None:
    small, large = lot(leeks, place, 100, 2), lot(leeks, place, 900, 2)
    assert look_if_due(at=NOW) is True
    rows = LotRisk.objects.order_by("position")
    assert [row.lot for row in rows] == [large, small]
    assert [(row.expected, row.chance, row.cost) for row in rows] == [
        (Decimal(900), Decimal(1), Decimal("0.01")),
        (Decimal(100), Decimal(1), Decimal("0.01")),
    ]
    look = UseByLook.objects.get()
    assert (look.done_at, look.newest_lot, look.until) == (NOW, large.pk, TODAY + 14 * DAY)


def test_once_an_hour_and_not_before(place: Location) -> None:
    assert look_if_due(at=NOW) is True
    assert look_if_due(at=NOW + timedelta(minutes=59)) is False
    assert look_if_due(at=NOW + HOUR) is True


def test_somebody_asks_and_the_next_tick_looks_again(place: Location, leeks: Item) -> None:
    look_if_due(at=NOW)
    lot(leeks, place, 100, 2)
    soon = NOW + timedelta(minutes=5)
    ask_for_look(at=soon)
    ask_for_look(at=soon)
    assert UseByLook.objects.filter(done_at=None).count() == 1
    assert look_if_due(at=soon) is True
    assert LotRisk.objects.count() == 1


def test_asking_while_it_is_being_worked_out_is_asking_for_another(place: Location) -> None:
    UseByLook.objects.create(key="a", asked_at=NOW, claimed_by="w", claimed_until=NOW + HOUR)
    ask_for_look(at=NOW)
    assert UseByLook.objects.filter(claimed_by="").count() == 1


def test_only_the_newest_look_is_kept(place: Location, leeks: Item) -> None:
    lot(leeks, place, 100, 2)
    for hours in range(4):
        look_if_due(at=NOW + hours * HOUR)
    assert LotRisk.objects.count() == 1
    assert look_if_due(at=NOW + 3 * HOUR) is False
    look_if_due(at=NOW + 3 * DAY)
    assert UseByLook.objects.count() == 1


def test_a_worker_that_is_lost_is_followed_by_another(
    place: Location, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.CLAIM_SECONDS = 600

    def lost(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(use_by_looks, "lots_at_risk", lost)
        look_if_due(at=NOW)
    assert look_if_due(at=NOW + timedelta(seconds=599)) is False
    assert look_if_due(at=NOW + timedelta(seconds=601)) is True


def test_a_worker_whose_lease_ran_out_writes_nothing(place: Location, leeks: Item) -> None:
    lot(leeks, place, 100, 2)
    look_if_due(at=NOW)
    assert use_by_looks._keep("gone", [], 0, TODAY, NOW) is False
    assert LotRisk.objects.count() == 1


def test_the_place_that_would_use_it_is_named(place: Location, leeks: Item) -> None:
    corner = make.location(code="CORNER", kind="kitchen")
    lot(leeks, place, 1000, 3)
    Booking.objects.create(location=corner, date=TODAY + DAY, item=leeks, qty=400, unit="g")
    look_if_due(at=NOW)
    row = LotRisk.objects.get()
    assert (row.expected, row.move_to, row.move_qty) == (Decimal(1000), corner, Decimal(400))


def test_what_is_on_hold_is_moved_nowhere(place: Location, leeks: Item) -> None:
    corner = make.location(code="CORNER", kind="kitchen")
    held = lot(leeks, place, 1000, 3)
    Hold.objects.create(lot=held, reason=Hold.Reason.RECALL)
    Booking.objects.create(location=corner, date=TODAY + DAY, item=leeks, qty=400, unit="g")
    look_if_due(at=NOW)
    row = LotRisk.objects.get()
    assert (row.expected, row.move_to) == (Decimal(1000), None)
