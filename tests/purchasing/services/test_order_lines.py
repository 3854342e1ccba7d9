"""A draft in a buyer's hands (screens.md, the buyer's day; R15)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Event
from inventory.problems import NotThere, Refused
from purchasing.models import OrderLine, Price, PurchaseOrder
from purchasing.services.order_lines import (
    NewCases,
    add_line,
    change_lines,
    other_offer,
    skip_delivery,
    take_up,
)
from tests import factories as make
from tests.purchasing.services.order_scenes import buyer, draft, fresh, hand, line, staff

pytestmark = pytest.mark.django_db


def change(order: PurchaseOrder, cases: int, why: str = "", nth: int = 0) -> None:
    wanted = NewCases(line(order, nth).pk, cases, why)
    change_lines(order.number, [wanted], hand=hand(buyer()))


def codes(refused: pytest.ExceptionInfo[Refused]) -> list[str]:
    return [problem.code for problem in refused.value.problems]


def test_a_changed_line_keeps_our_figure_and_the_word_why() -> None:
    order = draft(3, 1)
    change(order, 5, "street fair")
    one = line(order)
    assert (one.cases, one.our_cases, one.touched, one.touched_why) == (5, 3, True, "street fair")
    assert line(order, 1).touched is False
    assert (fresh(order).touched, fresh(order).version) == (True, 2)


def test_a_change_is_in_the_log_with_old_and_new() -> None:
    order = draft(3)
    person = buyer()
    wanted = [NewCases(line(order).pk, 5)]
    change_lines(order.number, wanted, hand=hand(person))
    event = Event.objects.get(verb="change")
    assert (event.subject, event.by) == (f"order:{order.number}", person)
    assert event.changes == {"version": 2, "lines": {line(order).item.name: [3, 5]}}


def test_our_figure_typed_again_gives_the_line_back_to_the_runs() -> None:
    order = draft(3)
    change(order, 5, "hunch")
    change(order, 3)
    assert (line(order).touched, line(order).touched_why) == (False, "")


def test_a_form_without_a_change_changes_nothing() -> None:
    order = draft(3)
    change(order, 3)
    assert (fresh(order).version, Event.objects.count()) == (1, 0)


def test_a_line_taken_off_stays_off() -> None:
    """Kept with 0 cases, so that the next run does not bring it back."""
    order = draft(3)
    change(order, 0)
    assert (line(order).cases, line(order).touched) == (0, True)


def test_every_wrong_figure_is_named_at_once_and_nothing_is_stored() -> None:
    order = draft(4, 4, 4)
    for nth, facts in ((0, {"minimum_cases": 3}), (1, {"case_multiple": 4})):
        offer = line(order, nth).offer
        type(offer).objects.filter(pk=offer.pk).update(**facts)
    wanted = [NewCases(line(order, nth).pk, cases) for nth, cases in enumerate((2, 6, 100000))]
    with pytest.raises(Refused) as refused:
        change_lines(order.number, wanted, hand=hand(buyer()))
    assert codes(refused) == ["below_minimum_cases", "not_a_multiple", "cases_out_of_range"]
    assert "Type 4 or 8." in refused.value.problems[1].message
    assert [one.cases for one in order.lines.all()] == [4, 4, 4]


def test_a_stale_page_is_told_what_changed_and_by_whom() -> None:
    order = draft(3)
    ines = buyer(first_name="Ines")
    change_lines(order.number, [NewCases(line(order).pk, 5)], hand=hand(ines, version=1))
    with pytest.raises(Refused) as refused:
        change_lines(order.number, [NewCases(line(order).pk, 4)], hand=hand(buyer(), version=1))
    (problem,) = refused.value.problems
    name = line(order).item.name
    assert problem.code == "stale"
    assert f"Ines changed this order at 09:00: {name} 3 to 5 cases." in problem.message
    assert line(order).cases == 5


def test_a_page_is_stale_after_a_run_as_well() -> None:
    order = draft(3)
    PurchaseOrder.objects.filter(pk=order.pk).update(version=2)
    with pytest.raises(Refused, match="worked out again while you looked"):
        change_lines(order.number, [], hand=hand(buyer(), version=1))


def test_staff_may_look_but_not_change() -> None:
    order = draft(3)
    with pytest.raises(Refused, match="A buyer or manager of") as refused:
        change_lines(order.number, [], hand=hand(staff()))
    assert codes(refused) == ["not_allowed"]


def test_an_order_of_another_place_is_not_there() -> None:
    order = draft(3)
    with pytest.raises(NotThere):
        change_lines(order.number, [], hand=hand(buyer(make.location())))
    with pytest.raises(NotThere):
        change_lines("NO-SUCH-1", [], hand=hand(buyer()))


def test_a_line_of_another_order_is_not_there() -> None:
    order, other = draft(3), draft(2)
    with pytest.raises(NotThere):
        change_lines(order.number, [NewCases(line(other).pk, 4)], hand=hand(buyer()))


def test_an_approved_order_is_not_changed() -> None:
    order = draft(3, status="approved")
    with pytest.raises(Refused, match="Undo the approval, then change it"):
        change(order, 5)


def test_a_line_is_added_at_the_price_of_the_delivery_day() -> None:
    order = draft(3)
    offer = make.offer(supplier=order.supplier)
    Price.objects.create(offer=offer, price=7)
    Price.objects.create(offer=offer, price=8, starts_on=order.delivery)
    Price.objects.create(offer=offer, price=9, starts_on=order.delivery.replace(day=6))
    added = add_line(order.number, offer.pk, 4, why="tasting", hand=hand(buyer()))
    assert (added.cases, added.our_cases, added.touched) == (4, 0, True)
    assert added.price == Decimal(8)
    assert (added.pack_base, added.touched_why) == (Decimal(10000), "tasting")
    assert fresh(order).touched is True


def test_a_line_that_was_taken_off_comes_back() -> None:
    order = draft(3)
    change(order, 0)
    again = add_line(order.number, line(order).offer_id, 2, hand=hand(buyer()))
    assert (again.pk, again.cases) == (line(order).pk, 2)


def test_what_another_supplier_sells_is_not_added() -> None:
    order = draft(3)
    with pytest.raises(Refused, match="does not sell that") as refused:
        add_line(order.number, make.offer().pk, 4, hand=hand(buyer()))
    assert codes(refused) == ["not_their_offer"]


def test_what_has_no_price_is_not_added() -> None:
    order = draft(3)
    offer = make.offer(supplier=order.supplier)
    with pytest.raises(Refused, match="has no price on Thu 5 Mar"):
        add_line(order.number, offer.pk, 4, hand=hand(buyer()))


def test_adding_nothing_is_refused() -> None:
    order = draft(3)
    with pytest.raises(Refused, match="Add 1 case or more"):
        add_line(order.number, line(order).offer_id, 0, hand=hand(buyer()))


def test_another_pack_holds_at_least_as_much() -> None:
    """3 cases of 10 kg are 30 kg: 2 sacks of 25 kg."""
    order = draft(3)
    item = line(order).item
    sack = make.offer(supplier=order.supplier, item=item, sku="SACK", pack_qty=Decimal(25))
    Price.objects.create(offer=sack, price=20)
    new = other_offer(order.number, line(order).pk, sack.pk, hand=hand(buyer()))
    assert (new.cases, new.price) == (2, Decimal(20))
    assert line(order).cases == 0


def test_another_pack_is_of_the_same_item() -> None:
    order = draft(3, 1)
    with pytest.raises(Refused) as refused:
        other_offer(order.number, line(order).pk, line(order, 1).offer_id, hand=hand(buyer()))
    assert codes(refused) == ["another_item"]


def test_a_skipped_delivery_says_who_when_and_why() -> None:
    order, person = draft(3), buyer()
    skip_delivery(order.number, why="kitchen closed", hand=hand(person))
    skipped = fresh(order)
    assert (skipped.skipped_by, skipped.skipped_why) == (person, "kitchen closed")
    assert (skipped.skipped_at is not None, skipped.version) == (True, 2)
    event = Event.objects.get(verb="skip")
    assert (event.by, event.changes["why"]) == (person, "kitchen closed")


def test_no_delivery_passes_without_a_word_why() -> None:
    order = draft(3)
    with pytest.raises(Refused, match="Say why this delivery may pass") as refused:
        skip_delivery(order.number, why=" ", hand=hand(buyer()))
    assert [(one.code, one.field) for one in refused.value.problems] == [("no_reason", "why")]
    assert (fresh(order).skipped_at, fresh(order).version) == (None, 1)
    assert not Event.objects.filter(verb="skip").exists()


def test_skipping_twice_is_skipping_once() -> None:
    order = draft(3)
    skip_delivery(order.number, why="closed", hand=hand(buyer()))
    skip_delivery(order.number, why="closed", hand=hand(buyer()))
    assert Event.objects.filter(verb="skip").count() == 1


def test_a_skipped_delivery_is_taken_up_again() -> None:
    order = draft(3)
    skip_delivery(order.number, why="closed", hand=hand(buyer()))
    take_up(order.number, hand=hand(buyer()))
    assert (fresh(order).skipped_at, OrderLine.objects.get(order=order).cases) == (None, 3)
