from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import (
    Event,
    Hold,
    Item,
    Location,
    Lot,
    Movement,
    OnHand,
    Transfer,
    UnexplainedUse,
)
from inventory.problems import Refused
from inventory.services.holds import hold_lot
from inventory.services.transfers import Load, call_back, load_arrived, send_load, undo_arrival
from inventory.services.usable import Permit
from inventory.services.usage import Use, report_use
from tests import factories as make
from tests.factories import NOW, TODAY

LATER = NOW + timedelta(hours=1)


def send(lot: Lot, source: Location, target: Location, qty: int = 6) -> Transfer:
    load = Load(Transfer.Kind.LOAD_OUT, source, target, [(lot, Decimal(qty))], TODAY)
    return send_load(load, happened_at=NOW, by=None, at=NOW)


def arrive(transfer: Transfer, **arrived: int) -> Transfer:
    quantities = {strip: Decimal(qty) for strip, qty in arrived.items()} if arrived else None
    return load_arrived(transfer.number, arrived=quantities, happened_at=LATER, by=None, at=LATER)


def stock(lot: Lot) -> dict[str, int]:
    rows = OnHand.objects.filter(lot=lot, qty__gt=0).select_related("location")
    return {row.location.code: int(row.qty) for row in rows}


@pytest.fixture
def kitchen(db: None) -> Location:
    return make.location(code="COM")


@pytest.fixture
def truck(db: None) -> Location:
    return make.location(code="T1", kind="truck")


def test_what_is_sent_leaves_and_is_nowhere_until_it_arrives(
    kitchen: Location, truck: Location
) -> None:
    lot = make.lot(10, at=kitchen)
    transfer = send(lot, kitchen, truck)
    assert stock(lot) == {"COM": 4}
    arrive(transfer)
    assert stock(lot) == {"COM": 4, "T1": 6}


def test_a_load_says_who_sent_it_and_who_took_it(kitchen: Location, truck: Location) -> None:
    lot, sender, taker = make.lot(10, at=kitchen), make.user(), make.user()
    load = Load(Transfer.Kind.LOAD_OUT, kitchen, truck, [(lot, Decimal(1))], TODAY)
    transfer = send_load(load, happened_at=NOW, by=sender, at=NOW)
    load_arrived(transfer.number, happened_at=LATER, by=taker, at=LATER)
    transfer.refresh_from_db()
    assert (transfer.sent_by, transfer.sent_at) == (sender, NOW)
    assert (transfer.arrived_by, transfer.arrived_at) == (taker, LATER)
    assert list(Event.objects.order_by("pk").values_list("verb", flat=True)) == ["send", "arrive"]


def test_sent_is_arrived_and_missing(kitchen: Location, truck: Location) -> None:
    lot = make.lot(10, at=kitchen)
    transfer = send(lot, kitchen, truck)
    arrive(transfer, **{lot.strip: 5})
    line = transfer.lines.get()
    assert [line.sent, line.arrived, line.missing] == [6, 5, 1]
    assert stock(lot) == {"COM": 4, "T1": 5}


def test_a_lot_that_is_not_named_is_missing(kitchen: Location, truck: Location) -> None:
    lot, other = make.lot(10, at=kitchen), make.lot(10, at=kitchen)
    picks = [(lot, Decimal(1)), (other, Decimal(2))]
    load = Load(Transfer.Kind.LOAD_OUT, kitchen, truck, picks, TODAY)
    transfer = send_load(load, happened_at=NOW, by=None, at=NOW)
    arrive(transfer, **{lot.strip: 1})
    assert [line.missing for line in transfer.lines.order_by("pk")] == [0, 2]


def test_more_than_is_there_is_not_sent(kitchen: Location, truck: Location) -> None:
    lot = make.lot(10, at=kitchen)
    with pytest.raises(Refused, match="10 g are there, not 11 g"):
        send(lot, kitchen, truck, 11)


def test_a_lot_on_hold_is_not_sent_unless_a_manager_allows_it(
    kitchen: Location, truck: Location
) -> None:
    lot = make.lot(10, at=kitchen)
    hold_lot(lot, reason=Hold.Reason.RECALL, by=None, at=NOW - timedelta(hours=1))
    with pytest.raises(Refused, match="is on hold"):
        send(lot, kitchen, truck)
    permit = Permit(make.manager(), "goes back to the supplier")
    load = Load(Transfer.Kind.RETURN, kitchen, truck, [(lot, Decimal(1))], TODAY, permit=permit)
    send_load(load, happened_at=NOW, by=None, at=NOW)
    assert Movement.objects.get(kind=Movement.Kind.SENT).allowed_by == permit.by


def test_more_than_was_sent_does_not_arrive(kitchen: Location, truck: Location) -> None:
    lot = make.lot(10, at=kitchen, of=make.item(name="Leeks"))
    transfer = send(lot, kitchen, truck)
    with pytest.raises(Refused, match="6 g were sent, so 7 g cannot have arrived"):
        arrive(transfer, **{lot.strip: 7})


def test_what_is_not_in_the_load_does_not_arrive(kitchen: Location, truck: Location) -> None:
    transfer = send(make.lot(10, at=kitchen), kitchen, truck)
    with pytest.raises(Refused, match=f"XXXXX is not in {transfer.number}"):
        arrive(transfer, XXXXX=1)


def test_a_load_does_not_arrive_before_it_was_sent(kitchen: Location, truck: Location) -> None:
    transfer = send(make.lot(10, at=kitchen), kitchen, truck)
    before = NOW - timedelta(minutes=1)
    with pytest.raises(Refused, match="so it did not arrive before"):
        load_arrived(transfer.number, happened_at=before, by=None, at=LATER)


def test_a_load_arrives_once(kitchen: Location, truck: Location) -> None:
    transfer = send(make.lot(10, at=kitchen), kitchen, truck)
    arrive(transfer)
    with pytest.raises(Refused, match="has arrived already"):
        arrive(transfer)


def test_a_load_that_never_left_is_called_back(kitchen: Location, truck: Location) -> None:
    lot = make.lot(10, at=kitchen)
    transfer = call_back(send(lot, kitchen, truck).number, reason="rain", by=None, at=LATER)
    assert stock(lot) == {"COM": 10}
    assert transfer.sent_at is None
    with pytest.raises(Refused, match="has not been sent"):
        arrive(transfer)


def test_a_load_that_arrived_is_not_called_back(kitchen: Location, truck: Location) -> None:
    transfer = send(make.lot(10, at=kitchen), kitchen, truck)
    arrive(transfer)
    with pytest.raises(Refused, match="has arrived already"):
        call_back(transfer.number, reason="", by=None, at=LATER)


def test_an_arrival_typed_too_early_is_undone_and_can_arrive_again(
    kitchen: Location, truck: Location
) -> None:
    lot = make.lot(10, at=kitchen)
    transfer = send(lot, kitchen, truck)
    arrive(transfer, **{lot.strip: 5})
    undo_arrival(transfer.number, reason="wrong truck", by=None, at=LATER)
    assert stock(lot) == {"COM": 4}
    arrive(transfer, **{lot.strip: 6})
    undo_arrival(transfer.number, reason="again", by=None, at=LATER)
    assert stock(lot) == {"COM": 4}


def test_an_arrival_of_what_is_used_is_not_undone(kitchen: Location, truck: Location) -> None:
    lot = make.lot(10, at=kitchen)
    transfer = send(lot, kitchen, truck)
    arrive(transfer)
    report_use([Use(lot.item, truck, Decimal(1), LATER)], by=None, at=LATER)
    with pytest.raises(Refused, match="5 g are there, not 6 g"):
        undo_arrival(transfer.number, reason="", by=None, at=LATER)


def test_a_load_recorded_late_explains_what_the_truck_used(
    kitchen: Location, truck: Location
) -> None:
    item: Item = make.item()
    lot = make.lot(10, at=kitchen, of=item)
    midday = LATER + timedelta(hours=2)
    report_use([Use(item, truck, Decimal(4), midday, "sale:9")], by=None, at=midday)
    transfer = send(lot, kitchen, truck)
    load_arrived(transfer.number, happened_at=LATER, by=None, at=midday)
    assert stock(lot) == {"COM": 4, "T1": 2}
    assert UnexplainedUse.objects.get().cleared_by == f"transfer:{transfer.number}"
