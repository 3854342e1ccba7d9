from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Hold, Item, Location, Movement, UnexplainedUse
from inventory.problems import Refused
from inventory.services.holds import hold_lot
from inventory.services.usage import Drawn, Use, correct_use, cover_unexplained, report_use
from tests import factories as make
from tests.factories import NOW, TODAY

LATER = NOW + timedelta(hours=1)


def use(item: Item, place: Location, qty: int, when: datetime = LATER, **facts: Any) -> Use:
    return Use(item, place, Decimal(qty), when, "sale:1", **facts)


def drawn_by_lot(drawn: Drawn) -> dict[str, Decimal]:
    return {movement.lot.strip: -movement.qty for movement in drawn.movements}


def explained() -> list[tuple[int, str]]:
    """Unexplained quantities and what cleared them, smallest first."""
    rows = UnexplainedUse.objects.order_by("qty")
    return [(int(row.qty), row.cleared_by) for row in rows]


def test_use_is_drawn_first_expired_first_undated_last(db: None) -> None:
    place, item = make.location(), make.item()
    undated = make.lot(10, at=place, of=item)
    late = make.lot(10, at=place, of=item, use_by=TODAY + timedelta(days=5))
    soon = make.lot(10, at=place, of=item, use_by=TODAY)
    drawn = report_use([use(item, place, 25)], by=None, at=LATER)
    assert drawn_by_lot(drawn) == {soon.strip: 10, late.strip: 10, undated.strip: 5}
    assert drawn.unexplained == []


def test_of_equal_use_by_the_lot_received_first_goes_first(db: None) -> None:
    place, item = make.location(), make.item()
    make.lot(10, at=place, of=item, received_on=TODAY)
    older = make.lot(10, at=place, of=item, received_on=TODAY - timedelta(days=2))
    assert drawn_by_lot(report_use([use(item, place, 3)], by=None, at=LATER)) == {older.strip: 3}


def test_what_no_lot_covers_is_not_refused_but_unexplained(db: None) -> None:
    place, item, person = make.location(), make.item(), make.user()
    make.lot(10, at=place, of=item)
    drawn = report_use([use(item, place, 14)], by=person, at=LATER)
    (row,) = drawn.unexplained
    assert (row.qty, row.reference, row.by, row.cleared_at) == (Decimal(4), "sale:1", person, None)
    assert sum(drawn_by_lot(drawn).values()) == 10


def test_use_without_any_stock_is_all_unexplained(db: None) -> None:
    report_use([use(make.item(), make.location(), 14)], by=None, at=LATER)
    assert UnexplainedUse.objects.get().qty == 14
    assert not Movement.objects.exists()


def test_lots_on_hold_and_past_use_by_are_left_alone(db: None) -> None:
    place, item = make.location(), make.item()
    held = make.lot(10, at=place, of=item)
    hold_lot(held, reason=Hold.Reason.OTHER, by=None, at=NOW)
    make.lot(10, at=place, of=item, use_by=TODAY - timedelta(days=1))
    good = make.lot(10, at=place, of=item)
    drawn = report_use([use(item, place, 12)], by=None, at=LATER)
    assert drawn_by_lot(drawn) == {good.strip: 10}
    assert [row.qty for row in drawn.unexplained] == [2]


def test_other_places_and_items_are_left_alone(db: None) -> None:
    place, item = make.location(), make.item()
    make.lot(10, of=item)
    make.lot(10, at=place)
    assert report_use([use(item, place, 1)], by=None, at=LATER).movements == []


def test_several_uses_share_what_is_there(db: None) -> None:
    place, item = make.location(), make.item()
    make.lot(10, at=place, of=item)
    drawn = report_use([use(item, place, 6), use(item, place, 6)], by=None, at=LATER)
    assert [-movement.qty for movement in drawn.movements] == [6, 4]
    assert [row.qty for row in drawn.unexplained] == [2]


def test_use_by_recipe_is_marked_as_assumed(db: None) -> None:
    place, item = make.location(), make.item()
    make.lot(10, at=place, of=item)
    report_use([use(item, place, 1), use(item, place, 1, assumed=False)], by=None, at=LATER)
    marks = Movement.objects.filter(kind=Movement.Kind.USAGE).order_by("pk")
    assert [one.assumed for one in marks] == [True, False]


def test_reading_takes_as_many_queries_for_few_uses_as_for_many(
    db: None, count_queries: Callable[..., int]
) -> None:
    place = make.location()
    items = [make.item() for _ in range(20)]

    def report(some: list[Item]) -> None:
        report_use([use(item, place, 1) for item in some], by=None, at=LATER)

    assert count_queries(report, items) == count_queries(report, items[:2])


# Corrections


def test_less_was_used_than_reported(db: None) -> None:
    place, item = make.location(), make.item()
    soon = make.lot(10, at=place, of=item, use_by=TODAY)
    late = make.lot(10, at=place, of=item)
    report_use([use(item, place, 15)], by=None, at=LATER)
    back = correct_use(use(item, place, 7), by=None, at=LATER)
    assert drawn_by_lot(back) == {late.strip: -5, soon.strip: -2}


def test_a_correction_takes_the_unexplained_part_back_first(db: None) -> None:
    place, item = make.location(), make.item()
    make.lot(10, at=place, of=item)
    report_use([use(item, place, 14)], by=None, at=LATER)
    back = correct_use(use(item, place, 3), by=None, at=LATER)
    assert back.movements == []
    assert explained() == [(1, ""), (3, "correction")]


def test_a_correction_may_reach_through_the_unexplained_part_into_the_lots(db: None) -> None:
    place, item = make.location(), make.item()
    lot = make.lot(10, at=place, of=item)
    report_use([use(item, place, 14)], by=None, at=LATER)
    back = correct_use(use(item, place, 6), by=None, at=LATER)
    assert drawn_by_lot(back) == {lot.strip: -2}
    assert not UnexplainedUse.objects.filter(cleared_at=None).exists()


def test_more_than_was_used_cannot_be_taken_back(db: None) -> None:
    place, item = make.location(), make.item(name="Leeks")
    make.lot(10, at=place, of=item)
    report_use([use(item, place, 5)], by=None, at=LATER)
    correct_use(use(item, place, 3), by=None, at=LATER)
    with pytest.raises(Refused, match="sale:1 did not take 3 g of Leeks"):
        correct_use(use(item, place, 3), by=None, at=LATER)


# What explains it later


def test_goods_recorded_late_explain_what_was_used_after_they_came(db: None) -> None:
    place, item = make.location(), make.item()
    report_use([use(item, place, 8)], by=None, at=LATER)
    late = make.lot(0, of=item)
    gain = make.receive(late, place, 5, when=NOW)
    (movement,) = cover_unexplained([gain], by=None, at=LATER)
    assert (movement.lot, movement.qty, movement.reference) == (late, Decimal(-5), "sale:1")
    assert movement.happened_at == LATER
    assert explained() == [(3, ""), (5, "receipt:1")]


def test_goods_that_came_after_the_use_explain_nothing(db: None) -> None:
    place, item = make.location(), make.item()
    report_use([use(item, place, 8, NOW)], by=None, at=NOW)
    gain = make.receive(make.lot(0, of=item), place, 5, when=LATER)
    assert cover_unexplained([gain], by=None, at=LATER) == []
    assert UnexplainedUse.objects.get().cleared_at is None
