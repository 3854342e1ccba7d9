"""A receipt taken back the same day, if nothing of it was used."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.contrib.auth.models import User

from inventory.models import Event, Hold, Inbound, Lot, Membership, OnHand
from inventory.problems import NotThere, Problem, Refused
from inventory.services.holds import hold_lot
from inventory.services.take_outs import Known, use_from_lot
from purchasing.models import OrderLine, Receipt
from purchasing.selectors.invariants import check_all
from purchasing.services.receiving_undo import undo_receipt
from tests import factories as make
from tests.factories import NOW
from tests.purchasing.services.dock_scenes import (
    as_ordered,
    dry,
    hand,
    line_of,
    lot_of,
    ordered,
    take_in,
)

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def staff(db: None) -> User:
    return make.member(Membership.Role.STAFF)


@pytest.fixture
def received(staff: User) -> Receipt:
    return take_in(ordered(dry(), status="approved"), staff)


def undo(receipt: Receipt, who: User, *, why: str = "wrong order") -> Receipt:
    return undo_receipt(receipt.pk, why=why, hand=hand(who, LATER))


def refusal(receipt: Receipt, who: User, **facts: str) -> Problem:
    with pytest.raises(Refused) as refused:
        undo(receipt, who, **facts)
    (problem,) = refused.value.problems
    return problem


def test_everything_is_as_before(received: Receipt, staff: User) -> None:
    undo(received, staff)
    order = received.order
    assert order
    order.refresh_from_db()
    assert (order.status, order.received_at) == ("approved", None)
    assert OrderLine.objects.get(order=order).received_cases == 0
    assert OnHand.objects.get(lot=lot_of(received)).qty == 0
    assert Inbound.objects.get().qty == 50_000
    assert Event.objects.filter(verb="undo_receipt").count() == 1
    assert not any(finding.rows for finding in check_all())


def test_it_can_be_received_again(received: Receipt, staff: User) -> None:
    undo(received, staff)
    assert received.order
    again = take_in(received.order, staff, at=LATER)
    assert lot_of(again).strip != lot_of(received).strip


def test_closed_and_rejected_cases_are_open_again(staff: User) -> None:
    item = dry()
    order = ordered(item)
    came = as_ordered(
        line_of(order, item), accepted=4, rejected=Decimal(1), reject_reason="crushed"
    )
    undo(take_in(order, staff, came), staff)
    line = line_of(order, item)
    assert (line.received_cases, line.given_up_cases) == (Decimal(0), Decimal(0))


def test_used_goods_stay(received: Receipt, staff: User) -> None:
    lot = lot_of(received)
    use_from_lot(Known(lot, received.location, Decimal(1), NOW), by=None, at=NOW)
    assert refusal(received, staff).code == "used_already"


def test_goods_on_hold_stay(received: Receipt, staff: User) -> None:
    hold_lot(lot_of(received), reason=Hold.Reason.RECALL, by=None, at=NOW)
    assert refusal(received, staff).code == "used_already"


def test_not_the_next_day(received: Receipt, staff: User) -> None:
    with pytest.raises(Refused, match="on the day it was made"):
        undo_receipt(received.pk, why="x", hand=hand(staff, NOW + timedelta(days=1)))


def test_not_twice(received: Receipt, staff: User) -> None:
    undo(received, staff)
    assert refusal(received, staff).code == "undone_already"


def test_not_without_a_reason(received: Receipt, staff: User) -> None:
    assert refusal(received, staff, why=" ").code == "no_reason"


def test_not_by_a_stranger(received: Receipt) -> None:
    stranger = make.member(Membership.Role.STAFF, make.location())
    with pytest.raises(NotThere):
        undo(received, stranger)


def test_what_was_bought_at_the_counter_is_undone_too(staff: User) -> None:
    from purchasing.services.bought import Bought, buy

    line = Bought(1, make.item(), Decimal(2), "kg")
    place = make.location()
    receipt = buy("Corner shop", [line], place, happened_at=NOW, hand=hand(staff))
    undo(receipt, staff)
    assert OnHand.objects.get(lot=Lot.objects.get()).qty == 0


def test_a_receipt_said_to_be_undone_that_was_not_is_found(received: Receipt) -> None:
    Receipt.objects.update(undone_at=NOW, undone_why="by hand in the database")
    found = [finding.code for finding in check_all() if finding.rows]
    assert found == ["receipts_moved"]
