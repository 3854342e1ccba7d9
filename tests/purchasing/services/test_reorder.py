"""The reorder run on a small kitchen: again, after people's edits, after approval, in part
(R1, R3, R4, R15)."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management.base import CommandError

from inventory.models import Booking, Hold, Item, Location, Lot
from inventory.problems import Refused
from inventory.services.holds import hold_lot, release_hold
from inventory.services.usage import Use, report_use
from purchasing.engine.inputs import ReorderInputs
from purchasing.engine.reorder import Plan, plan_orders
from purchasing.models import OrderLine, PurchaseOrder, ReorderRun, RunLine, Supplier
from purchasing.selectors.on_order import orders_digest
from purchasing.services import reorder
from purchasing.services.drafts import DraftWriter
from purchasing.services.reorder import Scope, draw_up_orders
from tests.purchasing.exchange.books import Ran, dump, run
from tests.purchasing.services.small_kitchen import (
    AS_OF,
    AS_OF_TEXT,
    TUESDAY,
    approve,
    book,
    load,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _kitchen() -> None:
    load()


def command(*words: str, as_of: str = AS_OF_TEXT) -> Ran:
    return run("reorder", "--as-of", as_of, "--json", *words)


def answered(*words: str, as_of: str = AS_OF_TEXT) -> Any:
    ran = command(*words, as_of=as_of)
    assert (ran.status, ran.err) == (0, "")
    return json.loads(ran.out)


def cases() -> dict[tuple[str, str, str], int]:
    """Cases of every stored line by supplier, location and item."""
    lines = OrderLine.objects.filter(order__status="draft").order_by("pk")
    names = ("order__supplier__code", "order__location__code", "item__code", "cases")
    return {(s, place, item): count for s, place, item, count in lines.values_list(*names)}


def draft(supplier: str = "GRO", place: str = "COM") -> PurchaseOrder:
    return PurchaseOrder.objects.drafts().get(supplier__code=supplier, location__code=place)


def line(supplier: str = "GRO", place: str = "COM") -> OrderLine:
    return OrderLine.objects.get(order=draft(supplier, place))


def touch(one: OrderLine, typed: int) -> None:
    """A person types the cases."""
    OrderLine.objects.filter(pk=one.pk).update(cases=typed, touched=True)
    PurchaseOrder.objects.filter(pk=one.order_id).update(touched=True)


AT_FIRST = {("GRO", "COM", "LEEK"): 2, ("GRO", "CAFE", "LEEK"): 2, ("DRY", "COM", "LENTIL"): 3}


def test_drafts_hold_what_is_needed_until_the_second_delivery() -> None:
    document = answered()
    assert cases() == AT_FIRST
    told = {(o["supplier"], o["location"], o["delivery"], o["number"]) for o in document["orders"]}
    assert told == {
        ("DRY", "COM", "2026-03-03", "DRY-20260303-1"),
        ("GRO", "CAFE", "2026-03-03", "GRO-20260303-1"),
        ("GRO", "COM", "2026-03-03", "GRO-20260303-2"),
    }
    stored = PurchaseOrder.objects.values_list("supplier__code", "location__code", "number")
    assert {(s, place, "2026-03-03", number) for s, place, number in stored} == told


def test_the_run_keeps_every_pair_that_it_considered() -> None:
    answered()
    assert ReorderRun.objects.count() == 1
    assert RunLine.objects.filter(cases__gt=0).count() == len(AT_FIRST)


def test_a_pair_is_considered_for_usage_long_ago() -> None:
    assert not [one for one in answered()["not_ordered"] if one["item"] == "LENTIL"]
    used = {"location": "CAFE", "date": "2025-03-01", "item": "LENTIL", "qty": "0", "unit": "kg"}
    load(usage=[used])
    left = [one for one in answered()["not_ordered"] if one["item"] == "LENTIL"]
    assert [(one["location"], one["reasons"]["on_hand"]) for one in left] == [("CAFE", "0")]


def test_the_same_run_again_answers_alike_and_changes_no_row() -> None:
    first, rows = command(), dump()
    second = command()
    assert second.out == first.out
    assert dump() == rows


def test_a_later_moment_with_the_same_outcome_changes_no_draft() -> None:
    answered()
    before = list(PurchaseOrder.objects.values()), list(OrderLine.objects.values())
    answered(as_of="2026-03-02T09:01")
    assert (list(PurchaseOrder.objects.values()), list(OrderLine.objects.values())) == before


def test_a_dry_run_stores_nothing_and_gives_the_numbers_that_a_run_gives() -> None:
    rows = dump()
    dry = command("--dry-run")
    assert dump() == rows
    assert command().out == dry.out
    assert command("--dry-run").out == dry.out


def test_a_touched_line_keeps_the_cases_of_the_person_with_ours_beside_them() -> None:
    answered()
    touch(line(), 7)
    book("COM", "2026-03-04", "LEEK", 20)
    answered()
    assert (line().cases, line().our_cases) == (7, 6)


def test_an_untouched_line_of_a_touched_draft_follows() -> None:
    answered()
    PurchaseOrder.objects.filter(pk=draft().pk).update(touched=True)
    book("COM", "2026-03-04", "LEEK", 20)
    answered()
    assert (line().cases, line().our_cases) == (6, 6)


def test_a_draft_that_changes_gets_a_new_version_and_one_that_does_not_keeps_its_own() -> None:
    answered()
    book("COM", "2026-03-04", "LEEK", 20)
    answered()
    assert (draft().version, draft("DRY").version) == (2, 1)


def test_the_ways_to_a_minimum_are_kept_with_their_costs() -> None:
    """63.00 of 100.00: lentils keep, so two cases more cost nothing, against a fee of 5.00."""
    load(
        suppliers=[
            {
                "code": "DRY",
                "name": "Granary",
                "order_days": "mon;thu",
                "cutoff": "16:00",
                "lead_days": "1",
                "delivery_days": "tue;fri",
                "minimum_order": "100",
                "below_minimum": "fee",
                "delivery_fee": "5",
            }
        ]
    )
    draw_up_orders(as_of=AS_OF)
    order = PurchaseOrder.objects.get(supplier__code="DRY")
    assert order.decision == "topped_up"
    assert order.weighed == {
        "taken": "topped_up",
        "cost": "0.00",
        "instead": "fee_paid",
        "instead_cost": "5.00",
    }
    version = order.version
    draw_up_orders(as_of=AS_OF)
    order.refresh_from_db()
    assert order.version == version
    Supplier.objects.filter(code="DRY").update(minimum_order=None, below_minimum="")
    draw_up_orders(as_of=AS_OF)
    order.refresh_from_db()
    assert (order.decision, order.weighed) == ("none_needed", None)


def test_an_emptied_draft_goes() -> None:
    answered()
    drop_the_need("CAFE")
    answered()
    assert cases() == {key: count for key, count in AT_FIRST.items() if key[1] != "CAFE"}
    assert PurchaseOrder.objects.count() == 2


def test_an_emptied_draft_that_a_person_touched_stays_and_shows_that_we_would_order_nothing() -> (
    None
):
    answered()
    touch(line("GRO", "CAFE"), 1)
    drop_the_need("CAFE")
    answered()
    left = line("GRO", "CAFE")
    assert (left.cases, left.our_cases) == (1, 0)


def drop_the_need(place: str) -> None:
    Booking.objects.filter(location__code=place).delete()


def test_an_approved_order_is_on_order_and_is_not_changed() -> None:
    answered()
    approve(draft())
    approved = PurchaseOrder.objects.filter(status="approved")
    before = list(approved.values()), list(OrderLine.objects.filter(order__in=approved).values())
    answered()
    assert cases() == {key: n for key, n in AT_FIRST.items() if key != ("GRO", "COM", "LEEK")}
    after = list(approved.values()), list(OrderLine.objects.filter(order__in=approved).values())
    assert after == before


def test_a_further_need_becomes_a_new_draft_that_adds_to_the_earlier_order() -> None:
    answered()
    approved = draft()
    approve(approved)
    book("COM", "2026-03-04", "LEEK", 9)
    answered()
    # 21 kg needed, 2 on hand, 10 on order: 9 more
    assert line().cases == 2
    assert draft().adds_to == approved
    assert draft().number == "GRO-20260303-3"


@pytest.mark.parametrize(
    ("words", "written"),
    [
        (("--supplier", "GRO"), {("GRO", "COM", "LEEK"), ("GRO", "CAFE", "LEEK")}),
        (("--location", "CAFE"), {("GRO", "CAFE", "LEEK")}),
        (("--supplier", "GRO", "--location", "COM"), {("GRO", "COM", "LEEK")}),
    ],
    ids=["supplier", "location", "both"],
)
def test_a_run_for_a_part_writes_that_part_only(
    words: tuple[str, ...], written: set[tuple[str, str, str]]
) -> None:
    document = answered(*words)
    assert set(cases()) == written
    told = {(o["supplier"], o["location"]) for o in document["orders"]}
    assert told == {key[:2] for key in written}


def test_a_run_for_a_part_leaves_the_other_drafts_alone() -> None:
    answered()
    others = list(PurchaseOrder.objects.exclude(supplier__code="DRY").order_by("pk").values())
    drop_the_need("CAFE")
    book("COM", "2026-03-04", "LEEK", 20)
    book("COM", "2026-03-04", "LENTIL", 30)
    answered("--supplier", "DRY")
    assert cases() == {**AT_FIRST, ("DRY", "COM", "LENTIL"): 6}
    left = PurchaseOrder.objects.exclude(supplier__code="DRY").order_by("pk")
    assert list(left.values()) == others


def once_meanwhile(happens: Callable[[], None]) -> tuple[Callable[..., Plan], list[int]]:
    """``plan_orders`` during whose first call something happens; and a list of its calls."""
    calls: list[int] = []

    def plan(inputs: ReorderInputs, *, as_of: int, seed: int) -> Plan:
        calls.append(as_of)
        if len(calls) == 1:
            happens()
        return plan_orders(inputs, as_of=as_of, seed=seed)

    return plan, calls


def test_an_order_approved_while_it_computes_is_worked_out_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answered()
    plan, calls = once_meanwhile(lambda: approve(draft()))
    monkeypatch.setattr(reorder, "plan_orders", plan)
    answered()
    assert len(calls) == 2
    assert cases() == {key: n for key, n in AT_FIRST.items() if key != ("GRO", "COM", "LEEK")}
    assert OrderLine.objects.filter(item__code="LEEK", order__location__code="COM").count() == 1


def test_the_orders_are_looked_at_after_the_drafts_are_locked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Else a draft approved between the two would be ordered once more."""
    answered()
    steps: list[str] = []
    lock = DraftWriter.__init__

    def looked() -> str:
        steps.append("look")
        return orders_digest()

    def locked(writer: DraftWriter, *args: Any, **named: Any) -> None:
        steps.append("lock")
        lock(writer, *args, **named)

    monkeypatch.setattr(reorder, "orders_digest", looked)
    monkeypatch.setattr(DraftWriter, "__init__", locked)
    answered()
    assert steps[-2:] == ["lock", "look"]


def test_orders_that_keep_changing_are_refused_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answered()
    moving = draft("DRY")
    approve(moving)

    def plan(inputs: ReorderInputs, *, as_of: int, seed: int) -> Plan:
        moving.refresh_from_db()
        PurchaseOrder.objects.filter(pk=moving.pk).update(version=moving.version + 1)
        return plan_orders(inputs, as_of=as_of, seed=seed)

    monkeypatch.setattr(reorder, "plan_orders", plan)
    drop_the_need("CAFE")
    with pytest.raises(Refused, match="Nothing was changed"):
        draw_up_orders(as_of=AS_OF)
    assert set(cases()) == {("GRO", "COM", "LEEK"), ("GRO", "CAFE", "LEEK")}


def test_unknown_codes_are_refused_with_a_sentence_each() -> None:
    rows = dump()
    ran = command("--supplier", "NOBODY", "--location", "NOWHERE")
    assert (ran.status, ran.out) == (1, "")
    assert sorted(ran.problems) == [
        "There is no location 'NOWHERE'. Use the code of one that the workbook lists.",
        "There is no supplier 'NOBODY'. Use the code of one that the workbook lists.",
    ]
    assert dump() == rows


@pytest.mark.parametrize("text", ["yesterday", "2026-02-30T09:00", "09:00"])
def test_a_moment_that_is_none_is_refused(text: str) -> None:
    rows = dump()
    with pytest.raises(CommandError, match="a moment is YYYY-MM-DDTHH:MM"):
        run("reorder", "--as-of", text, "--json")
    assert dump() == rows


def test_a_moment_in_the_past_answers_as_it_did_then() -> None:
    """Use, a hold and an approval that came later do not count (R3, R4)."""
    then = answered()
    later = AS_OF + timedelta(hours=3)
    leeks, yard = Item.objects.get(code="LEEK"), Location.objects.get(code="COM")
    report_use([Use(leeks, yard, Decimal(1500), later)], by=None, at=later)
    lot = Lot.objects.get(supplier_lot="L-1")
    hold_lot(lot, reason=Hold.Reason.OTHER, by=None, at=later + timedelta(minutes=1))
    approve(draft("DRY"), at=later)
    again = answered("--dry-run")
    assert shape(again) == shape(then)
    now = answered("--dry-run", as_of="2026-03-02T13:30")
    assert shape(now) != shape(then)


def shape(document: Any) -> set[tuple[str, str, str, int]]:
    return {
        (order["supplier"], order["location"], one["item"], one["cases"])
        for order in document["orders"]
        for one in order["lines"]
    }


def test_a_new_booking_changes_the_draft() -> None:
    answered()
    book("CAFE", "2026-03-04", "LEEK", 10)
    answered()
    assert line("GRO", "CAFE").cases == 4


def test_a_new_price_is_written_on_the_line_of_a_draft_but_not_of_an_approved_order() -> None:
    answered()
    approve(draft())
    row = {"supplier": "GRO", "item": "LEEK", "pack_qty": "5", "pack_unit": "kg", "price": "11"}
    load(supplier_items=[row])
    answered()
    assert line("GRO", "CAFE").price == Decimal(11)
    assert OrderLine.objects.get(order__status="approved").price == Decimal("9.5")


def test_a_hold_and_its_release_change_the_draft() -> None:
    answered()
    lot = Lot.objects.get(supplier_lot="L-1")
    (hold,) = hold_lot(lot, reason=Hold.Reason.OTHER, by=None, at=AS_OF)
    answered()
    assert line().cases == 3
    release_hold(hold.pk, why="tasted", by=None, at=AS_OF + timedelta(minutes=1))
    answered(as_of="2026-03-02T09:02")
    assert line().cases == 2


def test_a_draft_whose_cutoff_is_past_stays() -> None:
    answered()
    old = draft().pk
    draw_up_orders(as_of=datetime(2026, 3, 2, 14, 30, tzinfo=UTC))
    assert PurchaseOrder.objects.get(pk=old).delivery == TUESDAY


def test_a_draft_whose_delivery_day_is_over_goes() -> None:
    answered()
    old = draft().pk
    draw_up_orders(as_of=datetime(2026, 3, 4, 6, 0, tzinfo=UTC))
    assert not PurchaseOrder.objects.filter(pk=old).exists()


def test_part_of_a_run_may_be_asked_of_the_service() -> None:
    drawn = draw_up_orders(as_of=AS_OF, scope=Scope(supplier="DRY"))
    assert [order["supplier"] for order in drawn.document["orders"]] == ["DRY"]
