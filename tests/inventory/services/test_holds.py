from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Event, Hold, Location, Lot, StorageArea
from inventory.problems import Refused
from inventory.services.holds import hold_area, hold_location, hold_lot, release_hold
from inventory.services.lots import Change, Part, split_lot
from inventory.services.take_outs import Known, use_from_lot
from tests import factories as make
from tests.factories import NOW

RECALL = Hold.Reason.RECALL


def portion(lot: Lot, place: Location) -> Lot:
    part = Part(lot, place, Decimal(2), Change.PORTION)
    return split_lot(part, happened_at=NOW, by=None, at=NOW)


def area(place: Location, code: str) -> StorageArea:
    return StorageArea.objects.create(location=place, code=code, name=code, kind="chilled")


def test_a_hold_says_who_when_why_and_is_in_the_log(db: None) -> None:
    lot, person = make.lot(5), make.user()
    (hold,) = hold_lot(lot, reason=RECALL, note_text="glass", by=person, at=NOW)
    assert (hold.lot, hold.location, hold.reason, hold.note) == (lot, None, "recall", "glass")
    assert (hold.opened_at, hold.opened_by, hold.closed_at) == (NOW, person, None)
    event = Event.objects.get()
    assert (event.verb, event.subject, event.by) == ("hold", f"lot:{lot.strip}", person)


def test_a_hold_reaches_all_parts_of_the_lot(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    part = portion(lot, place)
    grandchild = portion(part, place)
    holds = hold_lot(lot, reason=RECALL, by=None, at=NOW)
    assert {hold.lot for hold in holds} == {lot, part, grandchild}


def test_a_hold_on_a_part_leaves_the_lot_free(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    part = portion(lot, place)
    assert [hold.lot for hold in hold_lot(part, reason=RECALL, by=None, at=NOW)] == [part]


def test_a_second_hold_on_the_same_lot_changes_nothing(db: None) -> None:
    lot = make.lot(5)
    hold_lot(lot, reason=RECALL, by=None, at=NOW)
    assert hold_lot(lot, reason=Hold.Reason.OTHER, by=None, at=NOW) == []
    assert Hold.objects.get().reason == RECALL
    assert Event.objects.count() == 1


def test_a_hold_here_and_a_hold_everywhere_are_two(db: None) -> None:
    place = make.location()
    lot = make.lot(5, at=place)
    hold_lot(lot, reason=RECALL, by=None, at=NOW)
    assert len(hold_lot(lot, location=place, reason=RECALL, by=None, at=NOW)) == 1


def test_everything_in_a_fridge_is_held_there(db: None) -> None:
    place, elsewhere = make.location(), make.location()
    fridge = area(place, "WALKIN")
    inside = make.lot(5, at=place, area=fridge)
    make.receive(inside, elsewhere, 5)
    make.lot(5, at=place, area=area(place, "DRY"))
    make.lot(0, area=fridge)  # nothing left of it
    (hold,) = hold_area(fridge, reason=Hold.Reason.TEMPERATURE, by=None, at=NOW)
    assert (hold.lot, hold.location) == (inside, place)


def test_everything_aboard_a_truck_is_held_there(db: None) -> None:
    truck, elsewhere = make.location(kind="truck"), make.location()
    aboard = make.lot(5, at=truck)
    make.receive(aboard, elsewhere, 5)
    make.lot(5, at=elsewhere)
    (hold,) = hold_location(truck, reason=Hold.Reason.TEMPERATURE, by=None, at=NOW)
    assert (hold.lot, hold.location) == (aboard, truck)


def test_a_release_says_who_when_and_why(db: None) -> None:
    lot, person = make.lot(5), make.user()
    (hold,) = hold_lot(lot, reason=RECALL, by=None, at=NOW)
    later = NOW + timedelta(hours=1)
    released = release_hold(hold.pk, why="supplier cleared it", by=person, at=later)
    assert (released.closed_at, released.closed_by) == (later, person)
    event = Event.objects.latest("pk")
    assert (event.verb, event.changes["why"]) == ("release", "supplier cleared it")


def test_a_second_release_is_refused(db: None) -> None:
    (hold,) = hold_lot(make.lot(5), reason=RECALL, by=None, at=NOW)
    release_hold(hold.pk, why="", by=None, at=NOW)
    with pytest.raises(Refused, match="was released already"):
        release_hold(hold.pk, why="", by=None, at=NOW)


def test_a_released_lot_can_be_held_again(db: None) -> None:
    lot = make.lot(5)
    (hold,) = hold_lot(lot, reason=RECALL, by=None, at=NOW)
    release_hold(hold.pk, why="", by=None, at=NOW)
    assert len(hold_lot(lot, reason=RECALL, by=None, at=NOW + timedelta(hours=1))) == 1


def test_a_hold_counts_after_what_was_drawn_before_it(db: None) -> None:
    """Two machines' clocks differ: the draw was stored first but is dated later."""
    place = make.location()
    lot = make.lot(5, at=place)
    ahead = NOW + timedelta(seconds=2)
    use_from_lot(Known(lot, place, Decimal(1), ahead), by=None, at=ahead)
    (hold,) = hold_lot(lot, reason=RECALL, by=None, at=NOW + timedelta(seconds=1))
    assert hold.opened_at is not None and hold.opened_at > ahead
