"""Nothing is used, sent or sold from a lot on hold or past use-by without a manager's word."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.models import Hold, Location, Lot, Membership, Movement
from inventory.problems import Refused
from inventory.services.holds import hold_lot, release_hold
from inventory.services.ledger import Entry, post
from inventory.services.take_outs import Known, take_out, use_from_lot
from inventory.services.usable import Permit
from tests import factories as make
from tests.factories import NOW, TODAY

YESTERDAY = TODAY - timedelta(days=1)
LATER = NOW + timedelta(hours=1)


def known(lot: Lot, place: Location, permit: Permit | None = None) -> Known:
    return Known(lot, place, Decimal(1), LATER, permit=permit)


def held_lot(place: Location, everywhere: bool = True) -> Lot:
    lot = make.lot(10, at=place)
    where = None if everywhere else place
    hold_lot(lot, location=where, reason=Hold.Reason.RECALL, by=None, at=NOW)
    return lot


@pytest.mark.parametrize(
    "kind", [Movement.Kind.USAGE, Movement.Kind.BATCH_INPUT, Movement.Kind.SENT]
)
def test_no_kind_of_use_draws_from_a_lot_on_hold(db: None, kind: Movement.Kind) -> None:
    place = make.location()
    lot = held_lot(place)
    with pytest.raises(Refused, match=r"is on hold \(recall\)"):
        post([Entry(kind, lot, place, Decimal(-1), LATER)], by=None, at=LATER)


def test_a_hold_elsewhere_does_not_concern_this_place(db: None) -> None:
    here, elsewhere = make.location(), make.location()
    lot = make.lot(10, at=here)
    hold_lot(lot, location=elsewhere, reason=Hold.Reason.TEMPERATURE, by=None, at=NOW)
    assert use_from_lot(known(lot, here), by=None, at=LATER).qty == -1


def test_after_its_release_a_lot_is_used_again(db: None) -> None:
    place = make.location()
    lot = held_lot(place)
    release_hold(Hold.objects.get().pk, why="tested", by=None, at=NOW + timedelta(minutes=5))
    assert use_from_lot(known(lot, place), by=None, at=LATER).qty == -1


def test_use_before_the_hold_may_be_posted_after_it(db: None) -> None:
    place = make.location()
    lot = held_lot(place)
    before = Known(lot, place, Decimal(1), NOW - timedelta(minutes=1))
    assert use_from_lot(before, by=None, at=LATER).qty == -1


def test_a_lot_is_usable_on_its_use_by_date(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place, use_by=TODAY)
    assert use_from_lot(known(lot, place), by=None, at=LATER).qty == -1


def test_past_its_use_by_a_lot_is_not_used(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place, use_by=YESTERDAY)
    with pytest.raises(Refused, match=f"is past its use-by of {YESTERDAY}"):
        use_from_lot(known(lot, place), by=None, at=LATER)


def test_the_day_is_that_of_the_business(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place, use_by=date(2026, 3, 4))
    evening = datetime(2026, 3, 5, 3, 0, tzinfo=UTC)  # still the 4th in Chicago
    make.time_zone("America/Chicago")
    assert use_from_lot(Known(lot, place, Decimal(1), evening), by=None, at=evening).qty == -1
    make.time_zone("UTC")
    with pytest.raises(Refused, match="past its use-by"):
        use_from_lot(Known(lot, place, Decimal(1), evening), by=None, at=evening)


@pytest.mark.parametrize("past", [True, False], ids=["past use-by", "on hold"])
def test_waste_is_always_taken_out(db: None, past: bool) -> None:
    place = make.location()
    lot = make.lot(10, at=place, use_by=YESTERDAY) if past else held_lot(place)
    movement = take_out(known(lot, place), reason="binned", waste=True, by=None, at=LATER)
    assert (movement.qty, movement.reason, movement.allowed_by) == (Decimal(-1), "binned", None)


def test_a_staff_meal_is_use(db: None) -> None:
    place = make.location()
    with pytest.raises(Refused, match="is on hold"):
        take_out(known(held_lot(place), place), reason="meal", waste=False, by=None, at=LATER)


def test_a_manager_may_allow_it_and_the_movement_says_so(db: None) -> None:
    place = make.location()
    permit = Permit(make.manager(), "tested and found good")
    movement = use_from_lot(known(held_lot(place), place, permit), by=None, at=LATER)
    assert (movement.allowed_by, movement.reason) == (permit.by, "tested and found good")


def test_a_word_that_was_not_needed_is_not_kept(db: None) -> None:
    place = make.location()
    permit = Permit(make.manager(), "just in case")
    movement = use_from_lot(known(make.lot(10, at=place), place, permit), by=None, at=LATER)
    assert (movement.allowed_by, movement.reason) == (None, "")


def test_a_manager_must_say_why(db: None) -> None:
    place = make.location()
    with pytest.raises(Refused, match="Say why"):
        use_from_lot(known(held_lot(place), place, Permit(make.manager(), " ")), by=None, at=LATER)


def test_a_manager_of_another_place_may_not(db: None) -> None:
    place = make.location(name="Truck 3")
    permit = Permit(make.manager(make.location()), "looks fine")
    with pytest.raises(Refused, match="is not a manager of Truck 3"):
        use_from_lot(known(held_lot(place), place, permit), by=None, at=LATER)


@pytest.mark.parametrize("role", [Membership.Role.STAFF, Membership.Role.TRUCK_LEAD, None])
def test_nobody_else_may(db: None, role: Membership.Role | None) -> None:
    place, person = make.location(), make.user()
    if role:
        Membership.objects.create(user=person, role=role)
    with pytest.raises(Refused, match="is not a manager"):
        use_from_lot(known(held_lot(place), place, Permit(person, "fine")), by=None, at=LATER)
