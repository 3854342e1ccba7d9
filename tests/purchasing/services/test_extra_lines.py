"""Ordering what no run asked for; what runs do with deliveries that a person skipped."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from inventory.models import Location
from inventory.problems import NotThere, Refused
from purchasing.models import Offer, PurchaseOrder
from purchasing.services.extra_lines import order_anyway
from purchasing.services.order_hand import Hand
from purchasing.services.order_lines import skip_delivery, take_up
from purchasing.services.reorder import draw_up_orders
from tests import factories as make
from tests.purchasing.services import small_kitchen
from tests.purchasing.services.order_scenes import buyer, hand, staff
from tests.purchasing.services.small_kitchen import AS_OF, TUESDAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _kitchen() -> None:
    small_kitchen.load()


def now() -> Hand:
    of = hand(buyer())
    return Hand(of.viewer, of.by, AS_OF)


def leeks() -> Offer:
    return Offer.objects.get(item__code="LEEK")


def yard() -> Location:
    return Location.objects.get(code="COM")


def drafts() -> dict[str, list[int]]:
    """Cases of each draft of the yard, by supplier."""
    rows = PurchaseOrder.objects.drafts().filter(location__code="COM")
    return {row.supplier.code: sorted(row.lines.values_list("cases", flat=True)) for row in rows}


def test_without_a_draft_one_is_opened_for_the_next_delivery() -> None:
    line = order_anyway(leeks().pk, yard(), 3, why="ordered anyway", hand=now())
    order = line.order
    assert (order.number, order.delivery, order.touched) == ("GRO-20260303-1", TUESDAY, True)
    assert (order.next_delivery, order.order_by) == (
        date(2026, 3, 5),
        AS_OF.replace(hour=14),
    )
    assert (line.cases, line.touched_why) == (3, "ordered anyway")


def test_with_a_draft_it_is_put_on_it() -> None:
    draw_up_orders(as_of=AS_OF)
    lentils = Offer.objects.get(item__code="LENTIL")
    line = order_anyway(lentils.pk, yard(), 9, hand=now())
    assert line.cases == 9
    assert drafts() == {"GRO": [2], "DRY": [9]}


def test_a_run_leaves_it_there() -> None:
    order_anyway(leeks().pk, yard(), 7, hand=now())
    draw_up_orders(as_of=AS_OF)
    assert drafts()["GRO"] == [7]
    assert PurchaseOrder.objects.drafts().get(number="GRO-20260303-1").lines.get().our_cases == 2


def test_what_nobody_delivers_is_refused() -> None:
    offer = make.offer(supplier=make.supplier(order_days=[], delivery_days=[1]))
    with pytest.raises(Refused, match="brings nothing to Yard kitchen within 60 days"):
        order_anyway(offer.pk, yard(), 1, hand=now())


def test_staff_do_not_order() -> None:
    of = hand(staff())
    with pytest.raises(Refused, match="orders. Ask one of them"):
        order_anyway(leeks().pk, yard(), 1, hand=Hand(of.viewer, of.by, AS_OF))


def test_what_is_not_sold_any_more_is_not_there() -> None:
    Offer.objects.filter(pk=leeks().pk).update(retired_on=TUESDAY)
    with pytest.raises(NotThere):
        order_anyway(leeks().pk, yard(), 1, hand=now())


def test_later_runs_leave_a_skipped_delivery_alone() -> None:
    draw_up_orders(as_of=AS_OF)
    order = PurchaseOrder.objects.drafts().get(supplier__code="GRO", location__code="COM")
    skip_delivery(order.number, why="closed", hand=now())
    small_kitchen.book("COM", "2026-03-04", "LEEK", 50)
    draw_up_orders(as_of=AS_OF)
    assert drafts()["GRO"] == [2]
    order.refresh_from_db()
    assert order.version == 2


def test_a_skipped_delivery_that_is_taken_up_follows_the_runs_again() -> None:
    draw_up_orders(as_of=AS_OF)
    order = PurchaseOrder.objects.drafts().get(supplier__code="GRO", location__code="COM")
    skip_delivery(order.number, why="closed", hand=now())
    take_up(order.number, hand=now())
    small_kitchen.book("COM", "2026-03-04", "LEEK", 50)
    draw_up_orders(as_of=AS_OF)
    assert drafts()["GRO"] == [12]


def test_a_skipped_delivery_is_gone_when_its_day_is_over() -> None:
    draw_up_orders(as_of=AS_OF)
    order = PurchaseOrder.objects.drafts().get(supplier__code="GRO", location__code="COM")
    skip_delivery(order.number, why="closed", hand=now())
    draw_up_orders(as_of=AS_OF + timedelta(days=1))
    assert PurchaseOrder.objects.filter(pk=order.pk).exists()
    draw_up_orders(as_of=AS_OF + timedelta(days=2))
    assert not PurchaseOrder.objects.filter(pk=order.pk).exists()
