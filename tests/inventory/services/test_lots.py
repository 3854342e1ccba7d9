"""Child lots: who gets which use-by. Date-marking examples: food-standards 1.2, DM ids."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Event, Hold, Item, Location, Lot, Movement, OnHand
from inventory.problems import Refused
from inventory.services.holds import hold_lot, release_hold
from inventory.services.ledger import reverse_movement
from inventory.services.lots import Change, Part, split_lot
from tests import factories as make
from tests.factories import NOW, TODAY


def day(text: str) -> date:
    return date.fromisoformat(text)


def change(
    lot: Lot, what: Change, on: date = TODAY, qty: int = 4, use_by: date | None = None
) -> Lot:
    stock = OnHand.objects.filter(lot=lot).select_related("location").get()
    part = Part(lot, stock.location, Decimal(qty), what, use_by)
    when = datetime.combine(on, time(9), UTC)
    return split_lot(part, happened_at=when, by=None, at=when)


def lot_of(
    use_by: date | None = None, qty: int = 10, item: Item | None = None, **facts: Any
) -> Lot:
    facts.setdefault("when", datetime(2026, 1, 1, tzinfo=UTC))
    return make.lot(qty, at=make.location(), of=item, use_by=use_by, **facts)


def test_a_part_moves_to_a_lot_of_its_own(db: None) -> None:
    lot = lot_of(TODAY + timedelta(days=9), supplier_lot="B77", unit_cost=Decimal("0.01"))
    part = change(lot, Change.PORTION)
    assert [row.qty for row in OnHand.objects.order_by("pk")] == [6, 4]
    assert (part.parent, part.origin, part.item) == (lot, Lot.Origin.PART, lot.item)
    assert (part.supplier_lot, part.unit_cost, part.received_on) == (
        "B77",
        Decimal("0.01"),
        lot.received_on,
    )
    assert part.use_by == lot.use_by
    assert part.strip != lot.strip


def test_who_opened_what_is_written_down(db: None) -> None:
    lot, person, place = make.lot(0), make.user(), make.location()
    make.receive(lot, place, 10)
    split_lot(Part(lot, place, Decimal(1), Change.OPEN), happened_at=NOW, by=person, at=NOW)
    event = Event.objects.get()
    assert (event.verb, event.subject, event.by) == ("open", f"lot:{lot.strip}", person)
    assert event.changes["part"] == lot.parts.get().strip


def test_more_than_is_there_is_not_split_off(db: None) -> None:
    lot = lot_of()
    with pytest.raises(Refused, match="10 g are there, not 11 g"):
        change(lot, Change.OPEN, qty=11)


@pytest.mark.parametrize(
    ("parent", "life", "expected"),
    [
        ("2026-03-20", 3, "2026-03-07"),
        ("2026-03-05", 3, "2026-03-05"),
        ("2026-03-20", 0, "2026-03-04"),
        (None, 3, "2026-03-07"),
        ("2026-03-20", None, "2026-03-20"),
    ],
    ids=["opened life", "parent first", "today only", "parent undated", "no opened life"],
)
def test_an_opened_part_takes_the_earlier_date(
    db: None, parent: str | None, life: int | None, expected: str
) -> None:
    item = make.item(shelf_life_opened_days=life)
    lot = lot_of(day(parent) if parent else None, item=item)
    assert change(lot, Change.OPEN).use_by == day(expected)


@pytest.mark.parametrize(
    ("maker", "expected"),
    [("2026-03-05", "2026-03-05"), ("2026-03-20", "2026-03-08")],
    ids=["DM-06", "DM-07"],
)
def test_an_opened_tub_of_ready_to_eat_food_is_marked(db: None, maker: str, expected: str) -> None:
    item = make.item(tcs=True, ready_to_eat=True)
    part = change(lot_of(day(maker), item=item), Change.OPEN, day("2026-03-02"))
    assert part.use_by == day(expected)


@pytest.mark.parametrize(
    ("mark", "frozen", "out", "expected"),
    [
        ("2026-03-08", "2026-03-04", "2026-04-10", "2026-04-13"),
        ("2026-03-08", "2026-03-02", "2026-04-10", "2026-04-15"),
        ("2026-03-08", "2026-03-04", "2026-03-04", "2026-03-08"),
        ("2026-03-08", "2026-03-04", "2026-03-05", "2026-03-08"),
        ("2026-03-08", "2026-03-08", "2026-03-20", "2026-03-19"),
    ],
    ids=["DM-09", "DM-10", "DM-11", "DM-12", "DM-13"],
)
def test_whole_days_frozen_do_not_count(
    db: None, mark: str, frozen: str, out: str, expected: str
) -> None:
    lot = lot_of(day(mark), item=make.item(may_freeze=True, tcs=True, ready_to_eat=True))
    in_freezer = change(lot, Change.FREEZE, day(frozen))
    assert in_freezer.use_by is None  # DM-18: the clock stands
    assert change(in_freezer, Change.THAW, day(out)).use_by == day(expected)


def test_two_spells_in_the_freezer_add_up(db: None) -> None:
    """DM-14: frozen 03-03 out 03-10; frozen 03-11 out 03-20; prepared 03-02: 03-22."""
    lot = lot_of(day("2026-03-08"), item=make.item(may_freeze=True))
    for frozen, out in (("2026-03-03", "2026-03-10"), ("2026-03-11", "2026-03-20")):
        lot = change(change(lot, Change.FREEZE, day(frozen)), Change.THAW, day(out))
    assert lot.use_by == day("2026-03-22")


def test_thawing_gives_the_thawed_life_at_most(db: None) -> None:
    item = make.item(may_freeze=True, shelf_life_thawed_days=2)
    lot = lot_of(day("2026-12-01"), item=item, state=Lot.State.FROZEN)
    part = change(lot, Change.THAW, TODAY)
    assert (part.use_by, part.state) == (TODAY + timedelta(days=2), Lot.State.THAWING)


def test_what_came_frozen_gains_no_days(db: None) -> None:
    lot = lot_of(day("2026-03-10"), state=Lot.State.FROZEN)
    assert change(lot, Change.THAW, day("2026-03-08")).use_by == day("2026-03-10")


def test_opening_frozen_food_does_not_lose_the_date_it_had(db: None) -> None:
    item = make.item(may_freeze=True, shelf_life_opened_days=30)
    frozen = change(lot_of(day("2026-03-08"), item=item), Change.FREEZE, day("2026-03-04"))
    assert change(frozen, Change.OPEN, day("2026-04-10")).use_by == day("2026-04-13")


def test_a_portion_of_frozen_food_keeps_its_freezing_day(db: None) -> None:
    lot = lot_of(day("2026-03-08"), item=make.item(may_freeze=True))
    portion = change(change(lot, Change.FREEZE, day("2026-03-04")), Change.PORTION, TODAY, 2)
    assert change(portion, Change.THAW, day("2026-04-10"), 1).use_by == day("2026-04-13")


def test_an_earlier_date_may_be_put_on_the_label(db: None) -> None:
    assert change(lot_of(TODAY), Change.PORTION, use_by=TODAY - timedelta(days=1)).use_by == (
        TODAY - timedelta(days=1)
    )


def test_nobody_lengthens_a_use_by_by_hand(db: None) -> None:
    with pytest.raises(Refused, match="is 2026-03-04 at the latest, not 2026-03-05"):
        change(lot_of(TODAY), Change.PORTION, use_by=TODAY + timedelta(days=1))
    assert Lot.objects.count() == 1


@pytest.mark.parametrize(
    ("facts", "state", "what", "sentence"),
    [
        ({"name": "Leeks"}, "", Change.FREEZE, "Leeks may not be frozen"),
        ({"may_freeze": True}, "frozen", Change.FREEZE, "is frozen already"),
        ({}, "chilled", Change.THAW, "is not frozen"),
    ],
    ids=["may not be frozen", "frozen already", "not frozen"],
)
def test_what_cannot_be_done_is_refused(
    db: None, facts: dict[str, Any], state: str, what: Change, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence):
        change(lot_of(item=make.item(**facts), state=state), what)


@pytest.mark.parametrize("what", Change)
def test_what_is_on_hold_is_neither_opened_nor_portioned(what: Change, db: None) -> None:
    lot = lot_of(item=make.item(name="Leeks", may_freeze=True))
    if what is Change.THAW:
        Lot.objects.update(state="frozen")
        lot.refresh_from_db()
    (hold,) = hold_lot(lot, reason=Hold.Reason.RECALL, note_text="glass", by=None, at=NOW)
    with pytest.raises(Refused) as refused:
        change(lot, what, TODAY + timedelta(days=1))
    (problem,) = refused.value.problems
    assert problem.code == "on_hold"
    assert problem.message == (
        f"Leeks {lot.strip} is on hold (recall: glass), so nothing is opened, thawed, frozen or "
        "portioned. A manager releases the hold and says why, or it is taken out and thrown away."
    )
    assert not Lot.objects.filter(parent=lot).exists()
    release_hold(hold.pk, why="not ours", by=None, at=NOW)
    assert change(lot, what, TODAY + timedelta(days=1)).parent == lot


def test_a_hold_at_another_place_stops_nothing_here_and_follows_the_part(db: None) -> None:
    lot, truck = lot_of(), make.location()
    hold_lot(lot, location=truck, reason=Hold.Reason.RECALL, by=None, at=NOW)
    part = change(lot, Change.PORTION, TODAY + timedelta(days=1))
    assert part.holds.get().location == truck


def test_holds_follow_a_part_that_was_portioned_before_them(db: None) -> None:
    lot = lot_of()
    later = NOW + timedelta(days=1)
    hold_lot(lot, reason=Hold.Reason.RECALL, note_text="glass", by=None, at=later)
    part = change(lot, Change.PORTION)
    hold = part.holds.get()
    assert (hold.reason, hold.note, hold.location, hold.closed_at) == (
        "recall",
        "glass",
        None,
        None,
    )


def test_a_split_is_taken_back_with_both_its_halves(db: None) -> None:
    lot = lot_of()
    part = change(lot, Change.OPEN)
    half = Movement.objects.filter(lot=part).get()
    reversals = reverse_movement(half.pk, reason="wrong tub", by=None, at=NOW)
    assert len(reversals) == 2
    assert {row.lot_id: int(row.qty) for row in OnHand.objects.all()} == {lot.pk: 10, part.pk: 0}


def test_a_split_whose_part_was_used_is_not_taken_back(db: None) -> None:
    lot = lot_of()
    part = change(lot, Change.OPEN)
    change(part, Change.PORTION, qty=1)
    with pytest.raises(Refused, match="3 g are there, not 4 g"):
        reverse_movement(
            Movement.objects.filter(lot=lot, qty__lt=0).get().pk, reason="", by=None, at=NOW
        )


def test_strip_numbers_are_given_in_one_sequence(db: None) -> None:
    place: Location = make.location()
    strips = [make.lot(1, at=place).strip for _ in range(5)]
    assert len(set(strips)) == 5
    assert all(len(strip) == 5 for strip in strips)
