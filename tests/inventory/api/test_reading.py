"""What is read of the kitchen: by code, narrowed to the reader's places."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from inventory.models import Hold, ItemUnit, Location, Lot, StorageArea
from inventory.services.holds import hold_lot, release_hold
from inventory.services.ledger import Entry, post
from inventory.services.log import note
from inventory.services.transfers import Load, send_load
from tests import factories as make
from tests.asking import Asker, asker

pytestmark = pytest.mark.django_db

LATER = make.NOW + timedelta(hours=1)


@pytest.fixture
def here() -> Location:
    return make.location(code="COM", name="Yard kitchen")


@pytest.fixture
def there() -> Location:
    return make.location(code="TRUCK1", kind="truck")


@pytest.fixture
def lead(here: Location) -> Asker:
    """Of one place, without cost."""
    return asker("prep_lead", here)


@pytest.fixture
def owner() -> Asker:
    return asker("owner", sees_cost=True)


def test_locations_are_those_of_the_reader(
    here: Location, there: Location, lead: Asker, owner: Asker
) -> None:
    StorageArea.objects.create(location=here, code="WALKIN", name="Walk-in", kind="chilled")
    (row,) = lead.get("locations/").rows
    assert (row["code"], row["areas"][0]["code"]) == ("COM", "WALKIN")
    assert [one["code"] for one in owner.get("locations/").rows] == ["COM", "TRUCK1"]
    assert lead.get("locations/COM/").body["name"] == "Yard kitchen"


def test_another_place_and_no_place_get_the_same_answer(there: Location, lead: Asker) -> None:
    other, none = lead.get("locations/TRUCK1/"), lead.get("locations/NOWHERE/")
    assert other.status == none.status == 404
    assert other.body == none.body


def test_items_tell_units_and_what_is_stated(lead: Asker) -> None:
    leeks = make.item(code="LEEK", unit="pan", grams_per_each=Decimal("12.5"))
    ItemUnit.objects.create(item=leeks, word="pan", qty=Decimal("2.5"), of_unit="kg")
    leeks.allergen_words.create(allergen="celery", says="may")
    item = lead.get("items/LEEK/").body
    assert (item["unit"], item["base_unit"], item["grams_per_each"]) == ("pan", "g", "12.5")
    assert item["units"] == [{"word": "pan", "qty": "2.5", "of_unit": "kg"}]
    assert item["allergens"] == [{"allergen": "celery", "says": "may"}]


def test_cost_is_null_for_people_who_do_not_see_it(
    here: Location, lead: Asker, owner: Asker
) -> None:
    leeks = make.item(code="LEEK")
    leeks.costs.create(starts_on=make.TODAY, cost=Decimal("0.0019"), source="GRO")
    lot = make.lot(500, at=here, of=leeks, unit_cost=Decimal("0.002"))
    paths = (f"lots/{lot.strip}/", "on-hand/", "items/LEEK/")
    seen = [owner.get(paths[0]).body["unit_cost"], owner.get(paths[1]).rows[0]["unit_cost"]]
    hidden = [lead.get(paths[0]).body["unit_cost"], lead.get(paths[1]).rows[0]["unit_cost"]]
    assert (seen, hidden) == (["0.002", "0.002"], [None, None])
    assert owner.get(paths[2]).body["costs"][0]["cost"] == "0.0019"
    assert lead.get(paths[2]).body["costs"][0]["cost"] is None


def test_cost_is_seen_place_by_place(here: Location, there: Location) -> None:
    both = asker("staff", here, sees_cost=True)
    assert both.user is not None
    both.user.memberships.create(role="truck_lead", location=there)
    costly = make.lot(5, at=here, unit_cost=Decimal(2))
    hidden = make.lot(5, at=there, unit_cost=Decimal(3))
    assert both.get(f"lots/{costly.strip}/").body["unit_cost"] == "2"
    assert both.get(f"lots/{hidden.strip}/").body["unit_cost"] is None
    assert {row["unit_cost"] for row in both.get("on-hand/").rows} == {"2", None}


def test_a_lot_is_seen_where_it_is_or_was(here: Location, there: Location, lead: Asker) -> None:
    lot = make.lot(500, at=here)
    make.receive(lot, there, 200)
    elsewhere = make.lot(5, at=there)
    body = lead.get(f"lots/{lot.strip}/").body
    assert body["on_hand"] == [{"location": "COM", "qty": "500"}]
    assert body["unit"] == "g"
    assert lead.get(f"lots/{elsewhere.strip}/").status == 404
    assert [row["strip"] for row in lead.get("lots/").rows] == [lot.strip]


def test_on_hand_leaves_out_what_is_gone_but_tells_it_to_those_who_follow(
    here: Location, lead: Asker
) -> None:
    lot = make.lot(5, at=here)
    kept = make.lot(6, at=here)
    _waste(lot, here, 5)
    assert [row["lot"] for row in lead.get("on-hand/").rows] == [kept.strip]
    changed = lead.get("on-hand/", changed_since=LATER.isoformat()).rows
    assert [(row["lot"], row["qty"]) for row in changed] == [(lot.strip, "0")]


def test_on_hand_of_one_place(here: Location, there: Location, owner: Asker, lead: Asker) -> None:
    make.lot(5, at=here)
    aboard = make.lot(6, at=there)
    rows = owner.get("on-hand/", location="TRUCK1").rows
    assert [row["lot"] for row in rows] == [aboard.strip]
    assert lead.get("on-hand/", location="TRUCK1").status == 404


def test_lots_changed_since_moved_or_were_touched(here: Location, lead: Asker) -> None:
    moved, noted, still = (make.lot(5, at=here) for _ in range(3))
    _waste(moved, here, 1)
    with transaction.atomic():
        note("label", f"lot:{noted.strip}", by=None, at=LATER)
    rows = lead.get("lots/", changed_since=LATER.isoformat()).rows
    assert {row["strip"] for row in rows} == {moved.strip, noted.strip}
    assert still.strip in {row["strip"] for row in lead.get("lots/").rows}


def test_holds_here_and_everywhere(
    here: Location, there: Location, lead: Asker, owner: Asker
) -> None:
    lot = make.lot(5, at=here)
    make.receive(lot, there, 5)
    for place in (None, here, there):
        hold_lot(lot, location=place, reason=Hold.Reason.RECALL, by=lead.user, at=make.NOW)
    assert [row["location"] for row in lead.get("holds/").rows] == [None, "COM"]
    assert len(owner.get("holds/").rows) == 3
    assert [row["lot"] for row in owner.get("holds/", location="TRUCK1").rows] == [lot.strip]


def test_holds_changed_since_were_opened_or_closed(here: Location, lead: Asker) -> None:
    lot = make.lot(5, at=here)
    (hold,) = hold_lot(lot, reason=Hold.Reason.OTHER, by=lead.user, at=make.NOW)
    assert lead.get("holds/", changed_since=LATER.isoformat()).rows == []
    release_hold(hold.pk, why="checked", by=lead.user, at=LATER)
    (row,) = lead.get("holds/", changed_since=LATER.isoformat()).rows
    assert lead.user is not None
    assert row["closed_by"] == lead.user.username


def test_transfers_are_seen_at_both_ends(here: Location, there: Location, owner: Asker) -> None:
    lot = make.lot(500, at=here)
    load = Load("load_out", here, there, [(lot, Decimal(200))], make.TODAY)  # type: ignore[arg-type]
    sent = send_load(load, happened_at=make.NOW, by=owner.user, at=make.NOW)
    for who in (owner, asker("staff", here), asker("truck_lead", there)):
        body = who.get(f"transfers/{sent.number}/").body
        assert (body["source"], body["target"]) == ("COM", "TRUCK1")
        assert (body["lines"][0]["lot"], body["lines"][0]["sent"]) == (lot.strip, "200")
    assert asker("staff", make.location()).get(f"transfers/{sent.number}/").status == 404
    assert len(owner.get("transfers/", changed_since=make.NOW.isoformat()).rows) == 1
    assert owner.get("transfers/", changed_since=LATER.isoformat()).rows == []


def test_the_log_is_for_those_who_read_the_log_of_every_place(
    here: Location, lead: Asker, owner: Asker
) -> None:
    with transaction.atomic():
        for verb in ("open", "hold"):
            note(verb, "lot:KALUM", by=lead.user, at=LATER, changes={"why": "leak"})
    events = owner.get("events/", subject="lot:KALUM").rows
    assert [(row["verb"], row["changes"]) for row in events] == [
        ("open", {"why": "leak"}),
        ("hold", {"why": "leak"}),
    ]
    assert lead.get("events/").status == 404
    assert asker("manager", here).get("events/").status == 404
    assert len(owner.get("events/", changed_since=LATER.isoformat()).rows) == 2


@pytest.mark.parametrize(
    "path", ["locations/", "items/", "lots/", "on-hand/", "holds/", "transfers/", "events/"]
)
def test_queries_do_not_grow_with_rows(
    path: str, here: Location, there: Location, owner: Asker, count_queries: Callable[..., int]
) -> None:
    _rows(3, here, there, owner)
    owner.get(path)
    few = count_queries(owner.get, path)
    _rows(57, here, there, owner)
    assert count_queries(owner.get, path) == few
    assert len(owner.get(path).rows) >= 3


def _rows(many: int, here: Location, there: Location, by: Asker) -> None:
    for _ in range(many):
        item = make.item(unit="pan")
        ItemUnit.objects.create(item=item, word="pan", qty=2, of_unit="kg")
        item.costs.create(starts_on=make.TODAY, cost=1, source="x")
        lot = make.lot(9, at=here, of=item)
        make.location()
        hold_lot(make.lot(9, at=here), reason=Hold.Reason.OTHER, by=by.user, at=make.NOW)
        load = Load("load_out", here, there, [(lot, Decimal(2))], make.TODAY)  # type: ignore[arg-type]
        send_load(load, happened_at=make.NOW, by=by.user, at=make.NOW)


def _waste(lot: Lot, place: Location, qty: int) -> None:
    entry = Entry("take_out", lot, place, Decimal(-qty), LATER, waste=True)  # type: ignore[arg-type]
    with transaction.atomic():
        post([entry], by=None, at=LATER)
