"""A delivery taken in: what becomes of lots, the order, the kitchen's view and the log."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.contrib.auth.models import User

from inventory.models import Event, Inbound, Lot, Membership, Movement, OnHand, StorageArea
from inventory.problems import NotThere, Refused
from purchasing.models import DueMoment, OrderLine, PurchaseOrder, Receipt, ReceiptLine
from purchasing.selectors.invariants import check_all
from purchasing.services.dock import CameLine, CameLot, Rest
from purchasing.services.inbound import tell_kitchen
from tests import factories as make
from tests.factories import NOW, TODAY
from tests.purchasing.services.dock_scenes import (
    as_ordered,
    chilled,
    delivery_of,
    dry,
    frozen,
    line_of,
    lot_of,
    ordered,
    take_in,
)


@pytest.fixture
def staff(db: None) -> User:
    return make.member(Membership.Role.STAFF)


def problems(refusal: pytest.ExceptionInfo[Refused]) -> list[str]:
    return [problem.code for problem in refusal.value.problems]


def only_line(receipt: Receipt) -> ReceiptLine:
    return ReceiptLine.objects.get(receipt=receipt)


def cases(receipt: Receipt, *names: str) -> list[int]:
    rows = ReceiptLine.objects.filter(receipt=receipt).order_by("pk")
    return [int(getattr(row, name)) for row in rows for name in names]


def broken() -> list[str]:
    return [str(finding) for finding in check_all() if finding.rows]


def test_as_ordered_becomes_a_lot_on_hand(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    lot = lot_of(take_in(order, staff))
    assert len(lot.strip) == 5
    assert (lot.received_on, lot.use_by) == (TODAY, date(2026, 3, 11))
    assert (lot.supplier_lot, lot.state, lot.origin) == ("L1", "chilled", "receipt")
    assert OnHand.objects.get(lot=lot, location=order.location).qty == 50_000
    moved = Movement.objects.get(lot=lot)
    assert (moved.kind, moved.by, moved.typed_unit) == ("receipt", staff, "case")
    assert moved.typed_qty == 5


def test_its_cost_is_the_price_of_the_order_line(staff: User) -> None:
    """12.00 for a case of 10 kg."""
    assert lot_of(take_in(ordered(dry()), staff)).unit_cost == Decimal("0.0012")


def test_the_order_is_received_and_nothing_is_coming_any_more(staff: User) -> None:
    order = ordered(dry())
    tell_within(order)
    assert Inbound.objects.count() == 1
    take_in(order, staff)
    order.refresh_from_db()
    assert (order.status, order.received_at, order.version) == ("received", NOW, 2)
    assert not Inbound.objects.exists()
    assert DueMoment.objects.filter(kind="change").count() == 1
    event = Event.objects.get(subject=f"order:{order.number}")
    assert (event.verb, event.by) == ("receive", staff)
    assert broken() == []


def tell_within(order: PurchaseOrder) -> None:
    from django.db import transaction

    with transaction.atomic():
        tell_kitchen([order.pk])


def test_in_two_parts(staff: User) -> None:
    item = dry()
    order = ordered(item)
    first = take_in(order, staff, as_ordered(line_of(order, item), accepted=3))
    order.refresh_from_db()
    assert (order.status, cases(first, "to_follow")) == ("sent", [2])
    assert Inbound.objects.get().qty == 20_000
    second = take_in(order, staff, as_ordered(line_of(order, item)))
    order.refresh_from_db()
    assert (order.status, cases(second, "expected", "accepted")) == ("received", [2, 2])
    assert broken() == []


def test_the_rest_can_be_closed(staff: User) -> None:
    item = dry()
    order = ordered(item)
    came = as_ordered(line_of(order, item), accepted=3, rest=Rest.CLOSED)
    receipt = take_in(order, staff, came)
    order.refresh_from_db()
    assert (cases(receipt, "cancelled", "to_follow"), order.status) == ([2, 0], "received")
    assert OrderLine.objects.get(order=order).given_up_cases == 2


def test_more_than_ordered(staff: User) -> None:
    item = dry()
    order = ordered(item)
    receipt = take_in(order, staff, as_ordered(line_of(order, item), accepted=6))
    assert cases(receipt, "expected", "accepted", "over") == [5, 6, 1]
    assert OnHand.objects.get().qty == 60_000


def test_a_rejected_case_that_is_not_brought_again(staff: User) -> None:
    item = dry()
    order = ordered(item)
    came = as_ordered(
        line_of(order, item), accepted=4, rejected=Decimal(1), reject_reason="crushed"
    )
    receipt = take_in(order, staff, came)
    order.refresh_from_db()
    assert cases(receipt, "accepted", "rejected") == [4, 1]
    assert only_line(receipt).reject_reason == "crushed"
    assert order.status == "received"


def test_a_rejected_case_that_is_brought_again_stays_open(staff: User) -> None:
    item = dry()
    order = ordered(item)
    came = as_ordered(
        line_of(order, item),
        accepted=4,
        rejected=Decimal(1),
        reject_reason="crushed",
        brings_again=Decimal(1),
    )
    take_in(order, staff, came)
    order.refresh_from_db()
    assert order.status == "sent"
    assert Inbound.objects.get().qty == 10_000


def test_a_whole_line_rejected_makes_no_lot(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    came = as_ordered(
        line_of(order, item), accepted=0, rejected=Decimal(5), reject_reason="warm", reading=None
    )
    take_in(order, staff, came)
    assert not Lot.objects.exists()


def test_two_lot_codes_of_one_line(staff: User) -> None:
    item = dry()
    order = ordered(item)
    lots = (CameLot(Decimal(4), "A"), CameLot(Decimal(3), "B"))
    receipt = take_in(order, staff, as_ordered(line_of(order, item), lots=lots))
    assert cases(receipt, "expected", "accepted", "over") == [4, 4, 0, 1, 3, 2]
    assert set(Lot.objects.values_list("supplier_lot", flat=True)) == {"A", "B"}
    assert broken() == []


@pytest.mark.parametrize(
    ("printed", "use_by", "label"),
    [
        (None, None, date(2026, 3, 11)),
        (date(2026, 3, 9), None, date(2026, 3, 9)),
        (date(2026, 4, 30), None, date(2026, 3, 11)),
        (None, date(2026, 3, 8), date(2026, 3, 8)),
        (date(2026, 3, 9), date(2026, 3, 8), date(2026, 3, 8)),
    ],
    ids=["life", "printed earlier", "printed later", "typed earlier", "typed before printed"],
)
def test_the_earliest_last_day_is_the_use_by(
    staff: User, printed: date | None, use_by: date | None, label: date
) -> None:
    """ST-02: the label's date wins when earlier."""
    item = chilled()
    order = ordered(item)
    came = as_ordered(line_of(order, item), lot={"printed": printed, "use_by": use_by})
    assert lot_of(take_in(order, staff, came)).use_by == label


def test_nobody_lengthens_a_use_by(staff: User) -> None:
    item = chilled()
    order = ordered(item)
    came = as_ordered(line_of(order, item), lot={"use_by": date(2026, 3, 12)})
    with pytest.raises(Refused, match="2026-03-11 at the latest") as refusal:
        take_in(order, staff, came)
    assert problems(refusal) == ["use_by_too_late"]


def test_a_lot_code_is_asked_where_the_item_is_traced(staff: User) -> None:
    item = dry(traceability_listed=True)
    order = ordered(item)
    came = as_ordered(line_of(order, item), lot={"supplier_lot": " "})
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, came)
    assert problems(refusal) == ["lot_missing"]


def test_a_use_by_is_asked_where_food_spoils_and_has_no_life(staff: User) -> None:
    item = chilled(shelf_life_days=None)
    order = ordered(item)
    with pytest.raises(Refused) as refusal:
        take_in(order, staff)
    assert problems(refusal) == ["use_by_missing"]


def test_where_it_goes(staff: User) -> None:
    place = make.location()
    StorageArea.objects.create(location=place, code="D", name="Dry store", kind="dry")
    cold = StorageArea.objects.create(
        location=place, code="W", name="Walk-in", kind="chilled", walk_order=1
    )
    low = StorageArea.objects.create(
        location=place, code="L", name="Low boy", kind="chilled", walk_order=2
    )
    known, new = chilled(), chilled()
    make.lot(of=known, area=low)
    receipt = take_in(ordered(known, new, place=place), staff)
    areas = dict(Lot.objects.filter(receipt_line__receipt=receipt).values_list("item", "area"))
    assert areas == {known.pk: low.pk, new.pk: cold.pk}


def test_every_problem_at_once(staff: User) -> None:
    traced, warm, not_said = dry(traceability_listed=True), chilled(), dry()
    order = ordered(traced, warm, not_said)
    lines = [
        as_ordered(line_of(order, traced), lot={"supplier_lot": ""}),
        as_ordered(line_of(order, warm), reading=None, rejected=Decimal(1)),
    ]
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, *lines)
    told = ["line_not_said", "lot_missing", "no_reason", "temperature_missing"]
    assert problems(refusal) == told
    assert not Receipt.objects.exists() and not Lot.objects.exists()


def test_a_second_dock_sees_that_the_first_took_it_in(staff: User) -> None:
    ana = make.member(Membership.Role.STAFF)
    User.objects.filter(pk=ana.pk).update(first_name="Ana")
    ana.refresh_from_db()
    item = dry()
    order = ordered(item)
    seen = as_ordered(line_of(order, item))
    take_in(order, ana, as_ordered(line_of(order, item), accepted=3))
    with pytest.raises(Refused, match=r"Ana took in goods .* at 09:00.* 2 cases") as refusal:
        take_in(order, staff, seen)
    assert problems(refusal) == ["stale"]


def test_an_order_that_is_in_already_is_stale(staff: User) -> None:
    order = ordered(dry())
    seen = delivery_of(order).lines
    take_in(order, staff)
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, *seen)
    assert problems(refusal)[0] == "stale"
    assert Receipt.objects.count() == 1


def test_a_draft_is_not_received(staff: User) -> None:
    order = ordered(dry(), status="draft")
    with pytest.raises(Refused) as refusal:
        take_in(order, staff)
    assert problems(refusal) == ["is_draft"]


def test_lines_of_another_order_are_refused(staff: User) -> None:
    order = ordered(dry())
    other = ordered(dry())
    lines = [*delivery_of(order).lines, *delivery_of(other).lines]
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, *lines)
    assert problems(refusal) == ["not_of_this_order"]


def test_the_device_clock_may_be_ten_minutes_fast(staff: User) -> None:
    order = ordered(dry())
    receipt = take_in(order, staff, happened_at=NOW + timedelta(minutes=10))
    assert receipt.happened_at == NOW


def test_what_is_still_to_come_is_refused(staff: User) -> None:
    order = ordered(dry())
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, happened_at=NOW + timedelta(minutes=11))
    assert problems(refusal) == ["happens_later"]


@pytest.mark.parametrize(("hours", "late"), [(36, False), (37, True)])
def test_a_late_entry_is_flagged(staff: User, hours: int, late: bool) -> None:
    order = ordered(dry())
    receipt = take_in(order, staff, happened_at=NOW - timedelta(hours=hours))
    event = Event.objects.get(verb="receive")
    assert (receipt.is_late, event.changes.get("late", False)) == (late, late)
    assert lot_of(receipt).received_on == (NOW - timedelta(hours=hours)).date()


def test_a_truck_lead_does_not_receive(db: None) -> None:
    order = ordered(dry())
    with pytest.raises(Refused, match="Commissary staff"):
        take_in(order, make.member(Membership.Role.TRUCK_LEAD))


def test_an_order_of_another_place_is_not_there(db: None) -> None:
    order = ordered(dry())
    with pytest.raises(NotThere):
        take_in(order, make.member(Membership.Role.STAFF, make.location()))


def test_use_before_the_receipt_was_recorded_is_explained(staff: User) -> None:
    from inventory.services.usage import Use, report_use

    item, place = dry(), make.location()
    use = Use(item, place, Decimal(1000), NOW - timedelta(minutes=5))
    report_use([use], by=None, at=NOW)
    order = ordered(item, place=place)
    take_in(order, staff, happened_at=NOW - timedelta(hours=1))
    assert OnHand.objects.get().qty == 49_000
    assert broken() == []


def test_negative_figures_are_refused(staff: User) -> None:
    item = dry()
    order = ordered(item)
    came = replace(as_ordered(line_of(order, item)), rejected=Decimal(-1))
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, came)
    assert "negative" in problems(refusal)


def test_more_brought_again_than_rejected_is_refused(staff: User) -> None:
    item = dry()
    order = ordered(item)
    came: CameLine = as_ordered(line_of(order, item), brings_again=Decimal(1))
    with pytest.raises(Refused) as refusal:
        take_in(order, staff, came)
    assert problems(refusal) == ["brings_more_again"]


def test_frozen_goods_are_frozen_lots(staff: User) -> None:
    assert lot_of(take_in(ordered(frozen()), staff)).state == Lot.State.FROZEN


def test_queries_of_a_receipt_do_not_grow(staff: User, count_queries: Callable[..., int]) -> None:
    first, few, many = (ordered(*[dry() for _ in range(lines)]) for lines in (1, 3, 30))
    take_in(first, staff)  # the first strip number ever makes its counter
    assert count_queries(take_in, few, staff) == count_queries(take_in, many, staff)
