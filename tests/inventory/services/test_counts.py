from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Location, Lot, Movement, OnHand, UnexplainedUse
from inventory.problems import Refused
from inventory.services.counts import Counted, post_count
from inventory.services.usage import Use, report_use
from tests import factories as make
from tests.factories import NOW

LATER = NOW + timedelta(hours=1)


def count(lot: Lot, place: Location, qty: int) -> list[Movement]:
    lines = [Counted(lot, place, Decimal(qty))]
    return post_count(lines, reference="count:1", counted_at=LATER, by=None, at=LATER)


@pytest.mark.parametrize(
    ("found", "difference"),
    [(7, [-3]), (12, [2]), (10, []), (0, [-10])],
    ids=["less", "more", "the same", "nothing"],
)
def test_the_difference_to_the_book_is_posted(db: None, found: int, difference: list[int]) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    movements = count(lot, place, found)
    assert [int(movement.qty) for movement in movements] == difference
    assert OnHand.objects.get().qty == found


def test_what_the_book_did_not_know_is_found(db: None) -> None:
    place = make.location()
    count(make.lot(0), place, 3)
    assert OnHand.objects.get().qty == 3


def test_a_count_is_judged_by_the_book_of_its_moment(db: None) -> None:
    """Counted 8 at LATER, two used half an hour after; handed in after that."""
    place = make.location()
    lot = make.lot(10, at=place)
    after = LATER + timedelta(minutes=30)
    report_use([Use(lot.item, place, Decimal(2), after)], by=None, at=after)
    lines = [Counted(lot, place, Decimal(8))]
    (movement,) = post_count(lines, reference="count:1", counted_at=LATER, by=None, at=after)
    assert movement.qty == -2
    assert OnHand.objects.get().qty == 6


def test_a_count_that_later_draws_contradict_is_refused(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    after = LATER + timedelta(minutes=30)
    report_use([Use(lot.item, place, Decimal(9), after)], by=None, at=after)
    with pytest.raises(Refused, match="1 g are there"):
        post_count(
            [Counted(lot, place, Decimal(0))], reference="", counted_at=LATER, by=None, at=after
        )


def test_a_count_settles_what_was_unexplained_before_it(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    report_use([Use(lot.item, place, Decimal(14), NOW)], by=None, at=NOW)
    count(lot, place, 0)
    row = UnexplainedUse.objects.get()
    assert (row.cleared_at, row.cleared_by) == (LATER, "count:1")


def test_what_became_unexplained_after_the_count_stays_open(db: None) -> None:
    place = make.location()
    lot = make.lot(10, at=place)
    after = LATER + timedelta(minutes=30)
    report_use([Use(lot.item, place, Decimal(14), after)], by=None, at=after)
    post_count(
        [Counted(lot, place, Decimal(10))], reference="c", counted_at=LATER, by=None, at=after
    )
    assert UnexplainedUse.objects.get().cleared_at is None


def test_another_place_stays_unexplained(db: None) -> None:
    place, other = make.location(), make.location()
    lot = make.lot(10, at=place)
    report_use([Use(lot.item, other, Decimal(1), NOW)], by=None, at=NOW)
    count(lot, place, 10)
    assert UnexplainedUse.objects.get().cleared_at is None
