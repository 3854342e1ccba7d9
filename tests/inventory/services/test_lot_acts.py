"""Who may do what to a lot, and what a press that comes too late is told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Event, Hold, Location, Lot, Movement, OnHand, StorageArea
from inventory.problems import NotThere, Refused
from inventory.roles import Grant, Viewer
from inventory.services.lot_acts import (
    Amount,
    change_strip,
    hold_store,
    hold_strip,
    move_strip,
    release_strip,
    take_in,
    take_out_strip,
)
from inventory.services.take_outs import Known, take_out
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def place() -> Location:
    return make.location(code="COM", name="Mill Lane")


@pytest.fixture
def leeks(place: Location) -> Lot:
    """Five kilograms."""
    item = make.item(name="Leeks", may_freeze=True)
    return make.lot(5000, at=place, of=item, use_by=TODAY + timedelta(days=2))


def viewer(role: str, place: Location | None = None) -> Viewer:
    return Viewer(1, "Ines", (Grant(role, place.pk if place else None),))


def some(lot: Lot, place: Location, qty: str = "2", unit: str = "kg") -> Amount:
    return Amount(lot.strip, place.code, Decimal(qty), unit)


def there(lot: Lot, place: Location) -> Decimal:
    return OnHand.objects.get(lot=lot, location=place).qty


def test_waste_is_taken_out_in_the_units_it_was_typed_in(place: Location, leeks: Lot) -> None:
    movement = take_out_strip(
        viewer("staff", place), some(leeks, place), why="spoiled", by=None, at=LATER
    )
    assert (movement.qty, movement.reason, movement.typed_unit) == (Decimal(-2000), "spoiled", "kg")
    assert there(leeks, place) == 3000
    event = Event.objects.get()
    assert (event.verb, event.subject, event.changes["why"]) == (
        "take_out",
        f"lot:{leeks.strip}",
        "spoiled",
    )


def test_all_of_it_leaves_no_crumbs_on_the_books(place: Location, leeks: Lot) -> None:
    pounds = some(leeks, place, "11.023113", "lb")  # 5 kg are 11.02311310924...
    take_out_strip(viewer("staff"), pounds, why="spoiled", by=None, at=LATER)
    assert there(leeks, place) == 0


@pytest.mark.parametrize(
    ("qty", "why", "field"),
    [
        ("0", "spoiled", "qty"),
        ("-1", "spoiled", "qty"),
        ("NaN", "spoiled", "qty"),
        ("1E+30", "spoiled", "qty"),
        ("9000000000", "spoiled", "qty"),
        ("0.0000000001", "spoiled", "qty"),
        ("1", "", "why"),
    ],
)
def test_how_much_and_why_are_needed(
    qty: str, why: str, field: str, place: Location, leeks: Lot
) -> None:
    with pytest.raises(Refused) as refused:
        take_out_strip(viewer("staff"), some(leeks, place, qty), why=why, by=None, at=LATER)
    assert [problem.field for problem in refused.value.problems] == [field]


def test_other_is_no_reason_until_somebody_writes_what_is_known(
    place: Location, leeks: Lot
) -> None:
    with pytest.raises(Refused, match="'other' alone tells nobody") as refused:
        hold_strip(viewer("staff"), leeks.strip, reason="other", note_text=" ", by=None, at=NOW)
    assert [problem.field for problem in refused.value.problems] == ["note"]
    (hold,) = hold_strip(
        viewer("staff"), leeks.strip, reason="other", note_text="smells odd", by=None, at=NOW
    )
    assert (hold.reason, hold.note) == ("other", "smells odd")


def test_a_lot_on_hold_may_be_thrown_away_but_not_eaten(place: Location, leeks: Lot) -> None:
    hold_strip(viewer("staff"), leeks.strip, reason="recall", by=None, at=NOW)
    with pytest.raises(Refused, match="is on hold"):
        take_out_strip(viewer("staff"), some(leeks, place), why="staff meal", by=None, at=LATER)
    take_out_strip(viewer("staff"), some(leeks, place), why="spoiled", by=None, at=LATER)
    assert there(leeks, place) == 3000


def test_frozen_in_one_act(place: Location, leeks: Lot) -> None:
    part = change_strip(viewer("prep_lead"), some(leeks, place), change="freeze", by=None, at=LATER)
    assert (part.state, part.use_by, there(part, place)) == ("frozen", None, Decimal(2000))


def test_moved_and_taken_in(place: Location, leeks: Lot) -> None:
    corner = make.location(code="CORNER", name="Corner")
    transfer = move_strip(viewer("staff"), some(leeks, place), to="CORNER", by=None, at=NOW)
    assert there(leeks, place) == 3000
    take_in(viewer("manager", corner), transfer.number, by=None, at=LATER)
    assert there(leeks, corner) == 2000


@pytest.mark.parametrize("to", ["", "COM", "NOWHERE"])
def test_it_is_moved_to_another_place_that_is_there(to: str, place: Location, leeks: Lot) -> None:
    with pytest.raises(Refused, match="Choose another place"):
        move_strip(viewer("staff"), some(leeks, place), to=to, by=None, at=NOW)


def test_a_press_that_comes_too_late_is_told_what_is_there_now(place: Location, leeks: Lot) -> None:
    corner = make.location(code="CORNER", name="Corner")
    make.receive(leeks, corner, 700)
    whole = Known(leeks, place, Decimal(5000), NOW)
    take_out(whole, reason="spoiled", waste=True, by=None, at=NOW)
    with pytest.raises(Refused) as refused:
        take_out_strip(viewer("staff"), some(leeks, place), why="spoiled", by=None, at=LATER)
    (problem,) = refused.value.problems
    assert problem.code == "stale"
    assert problem.message == (
        f"Leeks {leeks.strip} is no longer at Mill Lane: somebody was quicker. There is 700 g at "
        "Corner."
    )


Deed = Callable[[Viewer, Lot, Location], Any]
DEEDS: dict[str, Deed] = {
    "hold": lambda v, lot, p: hold_strip(
        v, lot.strip, at_place=p.code, reason="complaint", by=None, at=NOW
    ),
    "take out": lambda v, lot, p: take_out_strip(v, some(lot, p), why="spoiled", by=None, at=LATER),
    "freeze": lambda v, lot, p: change_strip(v, some(lot, p), change="freeze", by=None, at=LATER),
    "move": lambda v, lot, p: move_strip(v, some(lot, p), to="CORNER", by=None, at=LATER),
}
MAY = {
    "hold": {"buyer", "staff", "prep_lead", "truck_lead", "manager", "owner"},
    "take out": {"staff", "prep_lead", "truck_lead", "manager", "owner"},
    "freeze": {"staff", "prep_lead", "manager", "owner"},
    "move": {"staff", "prep_lead", "truck_lead", "manager", "owner"},
}


@pytest.mark.parametrize("deed", DEEDS)
@pytest.mark.parametrize("role", sorted(MAY["hold"]))
def test_each_role_at_its_own_place(deed: str, role: str, place: Location, leeks: Lot) -> None:
    make.location(code="CORNER")
    if role in MAY[deed]:
        DEEDS[deed](viewer(role, place), leeks, place)
        return
    with pytest.raises(Refused, match="You may not"):
        DEEDS[deed](viewer(role, place), leeks, place)
    assert there(leeks, place) == 5000


@pytest.mark.parametrize("deed", DEEDS)
def test_what_lies_elsewhere_is_not_there(deed: str, place: Location, leeks: Lot) -> None:
    corner = make.location(code="CORNER")
    for person in (viewer("manager", corner), Viewer(1, "Nobody")):
        with pytest.raises(NotThere):
            DEEDS[deed](person, leeks, place)


def test_a_lot_seen_here_is_not_touched_elsewhere(place: Location, leeks: Lot) -> None:
    corner = make.location(code="CORNER")
    make.receive(leeks, corner, 10)
    with pytest.raises(NotThere):
        DEEDS["take out"](viewer("manager", corner), leeks, place)


def test_everywhere_is_held_by_people_of_every_place(place: Location, leeks: Lot) -> None:
    with pytest.raises(Refused, match="Tell a manager at once"):
        hold_strip(viewer("manager", place), leeks.strip, reason="recall", by=None, at=NOW)
    (hold,) = hold_strip(viewer("staff"), leeks.strip, reason="recall", by=None, at=NOW)
    assert hold.location is None


def test_a_hold_needs_a_reason(place: Location, leeks: Lot) -> None:
    with pytest.raises(Refused, match="Choose why"):
        hold_strip(viewer("staff"), leeks.strip, reason="because", by=None, at=NOW)


def held(leeks: Lot, place: Location | None) -> Hold:
    return Hold.objects.create(lot=leeks, location=place, reason="recall", opened_at=NOW)


def test_a_manager_releases_and_says_why(place: Location, leeks: Lot) -> None:
    hold = held(leeks, place)
    with pytest.raises(Refused, match="Say why Leeks"):
        release_strip(viewer("manager", place), hold.pk, why=" ", by=None, at=LATER)
    released = release_strip(
        viewer("manager", place), hold.pk, why="supplier cleared it", by=None, at=LATER
    )
    assert released.closed_at == LATER
    with pytest.raises(Refused, match="released already"):
        release_strip(viewer("manager"), hold.pk, why="again", by=None, at=LATER)


@pytest.mark.parametrize("role", ["staff", "buyer", "truck_lead", "prep_lead"])
def test_nobody_else_releases(role: str, place: Location, leeks: Lot) -> None:
    with pytest.raises(Refused, match="You may not release"):
        release_strip(viewer(role), held(leeks, place).pk, why="fine", by=None, at=LATER)


def test_what_is_held_everywhere_is_released_by_who_may_everywhere(
    place: Location, leeks: Lot
) -> None:
    hold = held(leeks, None)
    with pytest.raises(Refused, match="A manager of every place"):
        release_strip(viewer("manager", place), hold.pk, why="fine", by=None, at=LATER)
    release_strip(viewer("manager"), hold.pk, why="fine", by=None, at=LATER)


def test_a_store_is_held_as_a_whole(place: Location) -> None:
    fridge = StorageArea.objects.create(location=place, code="WALK", name="walk-in", kind="chilled")
    lots = [make.lot(5, at=place, area=fridge) for _ in range(3)]
    corner = make.location(code="CORNER")
    with pytest.raises(NotThere):
        hold_store(viewer("manager", corner), fridge.pk, reason="temperature", by=None, at=NOW)
    holds = hold_store(viewer("staff", place), fridge.pk, reason="temperature", by=None, at=NOW)
    assert {hold.lot for hold in holds} == set(lots)


def test_only_who_works_there_takes_goods_in(place: Location, leeks: Lot) -> None:
    make.location(code="CORNER")
    number = move_strip(viewer("staff"), some(leeks, place), to="CORNER", by=None, at=NOW).number
    with pytest.raises(Refused, match="You may not take goods in"):
        take_in(viewer("staff", place), number, by=None, at=LATER)
    assert Movement.objects.filter(kind="arrived").exists() is False
