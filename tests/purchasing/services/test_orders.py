"""Approving, taking back, cancelling and giving up orders."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Event, Inbound
from inventory.problems import Refused
from purchasing.models import DueMoment, OrderLine, PurchaseOrder, Sending
from purchasing.selectors.invariants import check_all
from purchasing.services.order_lines import skip_delivery
from purchasing.services.orders import (
    approve,
    approve_unflagged,
    cancel,
    give_up,
    undo_approval,
)
from purchasing.services.sending import mark_as_sent, send
from tests import factories as make
from tests.factories import NOW
from tests.purchasing.services.order_scenes import buyer, draft, fresh, hand, line, staff

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _sound() -> object:
    yield
    assert [str(finding) for finding in check_all() if finding.rows] == []


def approved(*cases: int) -> PurchaseOrder:
    return approve(draft(*cases).number, hand=hand(buyer()))


def sent(*cases: int) -> PurchaseOrder:
    order = approved(*cases)
    mark_as_sent(order.number, "phone", hand=hand(buyer()))
    return fresh(order)


def codes(refused: pytest.ExceptionInfo[Refused]) -> list[str]:
    return [problem.code for problem in refused.value.problems]


def test_an_approval_says_who_and_when_and_is_on_order() -> None:
    order, person = draft(2, 3), buyer()
    approve(order.number, hand=hand(person))
    now = fresh(order)
    assert (now.status, now.approved_by, now.approved_at) == ("approved", person, NOW)
    assert {row.qty for row in Inbound.objects.all()} == {20000, 30000}
    assert DueMoment.objects.filter(kind="change").exists()
    assert Event.objects.get(verb="approve").changes == {"version": 2, "value": "60.00"}


def test_the_limit_of_a_person_is_by_value() -> None:
    order = draft(5)
    person = buyer(up_to=Decimal(59))
    make.manager()
    with pytest.raises(Refused) as refused:
        approve(order.number, hand=hand(person))
    (problem,) = refused.value.problems
    assert problem.code == "over_limit"
    assert "comes to 60.00; you may approve up to 59.00. Ask user" in problem.message
    assert fresh(order).status == "draft"
    assert approve(order.number, hand=hand(buyer(up_to=Decimal(60)))).status == "approved"


def test_staff_do_not_approve() -> None:
    with pytest.raises(Refused, match="approves orders"):
        approve(draft(5).number, hand=hand(staff()))


def test_an_order_with_nothing_on_it_is_not_approved() -> None:
    order = draft(1)
    OrderLine.objects.filter(order=order).update(cases=0)
    with pytest.raises(Refused, match="Nothing is on this order"):
        approve(order.number, hand=hand(buyer()))


def test_the_second_of_two_buyers_is_told_who_approved() -> None:
    order = draft(2)
    approve(order.number, hand=hand(buyer(first_name="Ines"), version=1))
    with pytest.raises(Refused, match="Ines approved this order at 09:00"):
        approve(order.number, hand=hand(buyer(), version=1))


def test_of_several_only_the_unflagged_are_approved() -> None:
    calm, late, gone = draft(2), draft(2, last_order_by=NOW - timedelta(hours=1)), draft(2)
    PurchaseOrder.objects.filter(pk=gone.pk).update(version=2)
    seen = [(order.number, 1) for order in (calm, late, gone)]
    done = approve_unflagged(seen, hand=hand(buyer()))
    assert done.approved == (calm.number,)
    assert {one.number: one.why[0][:20] for one in done.left} == {
        late.number: "the cutoff is past",
        gone.number: "It was worked out ag",
    }
    assert [fresh(order).status for order in (calm, late, gone)] == ["approved", "draft", "draft"]


def test_a_skipped_delivery_is_not_approved_with_the_others() -> None:
    order = draft(2)
    skip_delivery(order.number, why="closed", hand=hand(buyer()))
    done = approve_unflagged([(order.number, 2)], hand=hand(buyer()))
    assert done.left[0].why == ("this delivery is skipped",)


def test_orders_above_the_limit_are_left_with_the_reason() -> None:
    small, large = draft(1), draft(9)
    done = approve_unflagged(
        [(small.number, 1), (large.number, 1)], hand=hand(buyer(up_to=Decimal(50)))
    )
    assert done.approved == (small.number,)
    assert "you may approve up to 50.00" in done.left[0].why[0]


def test_an_approval_is_taken_back() -> None:
    order = approved(2)
    undo_approval(order.number, hand=hand(buyer()))
    now = fresh(order)
    assert (now.status, now.approved_by, now.approved_at, now.version) == ("draft", None, None, 3)
    assert not Inbound.objects.exists()


def test_what_waits_to_be_sent_is_stopped_with_the_approval() -> None:
    order = approved(2)
    sending = send(order.number, hand=hand(buyer()))
    undo_approval(order.number, hand=hand(buyer(), minutes=1))
    sending.refresh_from_db()
    assert (sending.sent_at, sending.stopped_at) == (None, NOW + timedelta(minutes=1))


def test_nothing_is_taken_back_while_it_is_being_sent() -> None:
    order = approved(2)
    sending = send(order.number, hand=hand(buyer()))
    Sending.objects.filter(pk=sending.pk).update(claimed_until=NOW + timedelta(minutes=5))
    with pytest.raises(Refused) as refused:
        undo_approval(order.number, hand=hand(buyer()))
    assert codes(refused) == ["being_sent"]


def test_a_sent_order_is_not_taken_back() -> None:
    with pytest.raises(Refused, match="has been sent. Ring the supplier"):
        undo_approval(sent(2).number, hand=hand(buyer()))


def test_a_further_draft_of_the_runs_makes_room() -> None:
    order = approved(2)
    further = draft(1, supplier=order.supplier, location=order.location)
    undo_approval(order.number, hand=hand(buyer()))
    assert not PurchaseOrder.objects.filter(pk=further.pk).exists()


def test_a_further_draft_that_somebody_changed_does_not() -> None:
    order = approved(2)
    draft(1, supplier=order.supplier, location=order.location, touched=True)
    with pytest.raises(Refused) as refused:
        undo_approval(order.number, hand=hand(buyer()))
    assert codes(refused) == ["further_draft"]


def test_nothing_comes_of_a_cancelled_order() -> None:
    order = sent(2)
    cancel(order.number, why="double", hand=hand(buyer()))
    assert (fresh(order).status, fresh(order).cancelled_at) == ("cancelled", NOW)
    assert not Inbound.objects.exists()


def test_what_has_come_in_part_is_not_cancelled() -> None:
    order = sent(2)
    OrderLine.objects.filter(order=order).update(received_cases=1)
    with pytest.raises(Refused, match="Give up what is still to come"):
        cancel(order.number, hand=hand(buyer()))
    OrderLine.objects.filter(order=order).update(received_cases=0)


def test_what_is_given_up_is_not_waited_for() -> None:
    order = sent(2, 3)
    give_up(order.number, [line(order).pk], hand=hand(buyer()))
    assert line(order).given_up_cases == 2
    assert [row.qty for row in Inbound.objects.all()] == [30000]
    assert fresh(order).status == "sent"


@pytest.mark.parametrize(("came", "status"), [(0, "cancelled"), (1, "received")])
def test_an_order_with_nothing_more_to_come_is_closed(came: int, status: str) -> None:
    order = sent(2)
    OrderLine.objects.filter(order=order).update(received_cases=came)
    give_up(order.number, [line(order).pk], hand=hand(buyer()))
    assert fresh(order).status == status
