from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection, transaction

from inventory.fields import ONE
from inventory.models import Location, Lot, Movement, OnHand
from inventory.problems import Refused
from inventory.services.ledger import Entry, post, reverse, reverse_movement
from tests import factories as make
from tests.factories import NOW

Kind = Movement.Kind


def on_hand(lot: Lot, place: Location) -> Decimal:
    found = OnHand.objects.filter(lot=lot, location=place).first()
    return found.qty if found else Decimal(0)


def used(lot: Lot, place: Location, qty: int | Decimal) -> Entry:
    return Entry(Kind.USAGE, lot, place, -Decimal(qty), NOW)


def test_a_receipt_puts_its_quantity_on_hand(db: None) -> None:
    place = make.location()
    lot = make.lot(500, at=place)
    assert on_hand(lot, place) == 500
    movement = Movement.objects.get()
    assert (movement.qty, movement.item) == (Decimal(500), lot.item)
    assert movement.kind == Kind.RECEIPT


def test_a_draw_takes_it_off_again(db: None) -> None:
    place = make.location()
    lot = make.lot(500, at=place)
    post([used(lot, place, 200)], by=None, at=NOW)
    assert on_hand(lot, place) == 300


def test_the_last_gram_can_be_drawn_and_no_more(db: None) -> None:
    place = make.location()
    lot = make.lot(500, at=place)
    post([used(lot, place, 500)], by=None, at=NOW)
    assert on_hand(lot, place) == 0
    with pytest.raises(Refused):
        post([used(lot, place, ONE)], by=None, at=NOW)


def test_a_draw_of_more_than_is_there_is_refused_in_a_sentence(db: None) -> None:
    place = make.location(name="Walk-in")
    lot = make.lot(300, at=place, of=make.item(name="Leeks"))
    with pytest.raises(Refused) as refused:
        post([used(lot, place, 500)], by=None, at=NOW)
    assert str(refused.value) == (
        f"Leeks {lot.strip} at Walk-in: 300 g are there, not 500 g. Take less, take it from "
        "another lot, or count the lot."
    )
    assert refused.value.problems[0].code == "not_there"
    assert on_hand(lot, place) == 300


def test_a_lot_that_was_never_there_is_refused_alike(db: None) -> None:
    lot, elsewhere = make.lot(300, at=make.location()), make.location()
    with pytest.raises(Refused, match="0 g are there, not 1 g"):
        post([used(lot, elsewhere, 1)], by=None, at=NOW)


def test_all_shortages_of_a_post_are_named_at_once(db: None) -> None:
    place = make.location()
    lots = [make.lot(1, at=place) for _ in range(3)]
    with pytest.raises(Refused) as refused:
        post(
            [used(lot, place, qty) for lot, qty in zip(lots, (2, 1, 3), strict=True)],
            by=None,
            at=NOW,
        )
    assert [problem.data["lot"] for problem in refused.value.problems] == [
        lots[0].strip,
        lots[2].strip,
    ]


def test_a_post_is_all_or_nothing(db: None) -> None:
    place = make.location()
    full, empty = make.lot(5, at=place), make.lot(1, at=place)
    with pytest.raises(Refused), transaction.atomic():
        post([used(full, place, 5), used(empty, place, 2)], by=None, at=NOW)
    assert on_hand(full, place) == 5
    assert Movement.objects.count() == 2


def test_ten_tenths_make_one_and_three_tenths_leave_nothing(db: None) -> None:
    place = make.location()
    lot = make.lot(0)
    tenth = Decimal("0.1")
    for _ in range(10):
        make.receive(lot, place, tenth)
    assert on_hand(lot, place) == 1
    for _ in range(10):
        post([used(lot, place, tenth)], by=None, at=NOW)
    assert on_hand(lot, place) == 0


def test_several_movements_of_one_lot_change_it_by_their_sum(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    post([used(lot, place, 4), used(lot, place, 6)], by=None, at=NOW)
    assert on_hand(lot, place) == 0
    assert Movement.objects.filter(kind=Kind.USAGE).count() == 2


def test_what_will_happen_is_not_posted(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    later = Entry(Kind.USAGE, lot, place, Decimal(-1), NOW + timedelta(minutes=1))
    with pytest.raises(Refused, match="still to come"):
        post([later], by=None, at=NOW)


def test_a_movement_tells_who_when_and_why(db: None) -> None:
    place, person = make.location(), make.user()
    lot = make.lot(10, at=place)
    entry = Entry(
        Kind.TAKE_OUT,
        lot,
        place,
        Decimal(-2),
        NOW - timedelta(hours=1),
        "take_out:7",
        "spilled",
        waste=True,
        typed_qty=Decimal("0.002"),
        typed_unit="kg",
    )
    (movement,) = post([entry], by=person, at=NOW)
    movement.refresh_from_db()
    assert (movement.by, movement.happened_at, movement.recorded_at) == (
        person,
        NOW - timedelta(hours=1),
        NOW,
    )
    assert (movement.reference, movement.reason) == ("take_out:7", "spilled")
    assert (movement.typed_qty, movement.typed_unit) == (Decimal("0.002"), "kg")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    "step", [lambda: post([], by=None, at=NOW), lambda: reverse([], reason="", by=None, at=NOW)]
)
def test_a_step_demands_the_transaction_of_its_act(step: Callable[[], object]) -> None:
    with pytest.raises(transaction.TransactionManagementError, match="inside the transaction"):
        step()


def test_queries_do_not_grow_with_lots_that_gain(
    db: None, count_queries: Callable[..., int]
) -> None:
    place, item = make.location(), make.item()
    lots = [make.lot(of=item) for _ in range(60)]

    def receive(some: list[Lot]) -> None:
        post([Entry(Kind.RECEIPT, lot, place, Decimal(1), NOW) for lot in some], by=None, at=NOW)

    few = count_queries(receive, lots[:3])
    assert count_queries(receive, lots) == few == 2  # on hand, movements


# Reversal


def test_a_reversal_is_the_opposite_and_points_at_what_it_reverses(db: None) -> None:
    place, person = make.location(), make.user()
    lot = make.lot(500, at=place)
    (movement,) = post([used(lot, place, 200)], by=None, at=NOW)
    later = NOW + timedelta(hours=2)
    (reversal,) = reverse_movement(movement.pk, reason="typed twice", by=person, at=later)
    assert on_hand(lot, place) == 500
    assert (reversal.qty, reversal.reverses) == (Decimal(200), movement)
    assert reversal.kind == Kind.USAGE
    assert (reversal.by, reversal.reason, reversal.happened_at) == (person, "typed twice", later)
    movement.refresh_from_db()
    assert movement.qty == -200


def test_a_second_reversal_is_refused(db: None) -> None:
    place = make.location()
    lot = make.lot(500, at=place)
    (movement,) = post([used(lot, place, 200)], by=None, at=NOW)
    reverse_movement(movement.pk, reason="", by=None, at=NOW)
    with pytest.raises(Refused, match="was reversed already"):
        reverse_movement(movement.pk, reason="", by=None, at=NOW)
    assert on_hand(lot, place) == 500


def test_a_reversal_is_not_reversed(db: None) -> None:
    place = make.location()
    (movement,) = post([used(make.lot(500, at=place), place, 200)], by=None, at=NOW)
    (reversal,) = reverse_movement(movement.pk, reason="", by=None, at=NOW)
    with pytest.raises(Refused, match="post it anew"):
        reverse_movement(reversal.pk, reason="", by=None, at=NOW)


def test_a_receipt_that_is_partly_used_cannot_be_reversed(db: None) -> None:
    place = make.location()
    lot = make.lot(500, at=place)
    receipt = Movement.objects.get()
    post([used(lot, place, 1)], by=None, at=NOW)
    with pytest.raises(Refused, match="499 g are there, not 500 g"), transaction.atomic():
        reverse([receipt.pk], reason="", by=None, at=NOW)
    assert on_hand(lot, place) == 499


def test_no_part_of_a_receipt_is_reversed_alone_the_last_one_neither(db: None) -> None:
    place = make.location()
    lots = [make.lot(500, at=place), make.lot(700, at=place)]
    for movement in Movement.objects.all():
        with pytest.raises(Refused) as refused:
            reverse_movement(movement.pk, reason="wrong", by=None, at=NOW)
        (problem,) = refused.value.problems
        assert problem.code == "belongs_to_document"
        assert problem.message == (
            "It is part of receipt:1. Undo the receipt as a whole, on the day it was made; later, "
            "count the lot or take out what is not there, and say why."
        )
    assert [on_hand(lot, place) for lot in lots] == [500, 700]


def test_what_belongs_to_a_document_is_not_reversed_alone(db: None) -> None:
    place = make.location()
    lot = make.lot(500, at=place)
    (sent,) = post([Entry(Kind.SENT, lot, place, Decimal(-5), NOW, "transfer:T1")], by=None, at=NOW)
    with pytest.raises(Refused, match="It is part of transfer:T1. Call the load back"):
        reverse_movement(sent.pk, reason="", by=None, at=NOW)


# The database


@pytest.mark.parametrize(
    "act", ["UPDATE inventory_movement SET qty = 1", "DELETE FROM inventory_movement"]
)
def test_the_database_refuses_to_change_a_movement(db: None, act: str) -> None:
    make.lot(5, at=make.location())
    with (
        pytest.raises(Exception, match="A movement is never changed or deleted"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(act)
    assert Movement.objects.get().qty == 5
