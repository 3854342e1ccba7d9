"""What follows from other cases, and from cases that do not come: the numbers of the run."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.utils import timezone

from inventory.engine.dates import BusinessClock
from inventory.exchange.book import TextSheet
from inventory.models import Usage
from inventory.roles import Viewer
from inventory.selectors.business import business
from inventory.selectors.viewers import viewer_of
from purchasing.engine.reorder import Run
from purchasing.exchange.workbook import load_sheets
from purchasing.management.commands._moments import moment
from purchasing.models import Answer, OrderLine, PurchaseOrder, Supplier
from purchasing.selectors import what_if
from purchasing.selectors.consequences import try_cases, what_is_missed
from purchasing.selectors.order_page import order_for
from purchasing.selectors.run_document import reasons_document
from purchasing.selectors.what_if import look_ahead
from purchasing.services.reorder import draw_up_orders
from tests import factories as make
from tests.oracle.workbooks import generate
from tests.purchasing.services import small_kitchen
from tests.purchasing.services.small_kitchen import AS_OF

pytestmark = pytest.mark.django_db
# What is said of the decision as a whole; the rest is of the cases.
OF_THE_DECISION = {"minimum_top_up", "price_break_extra", "rounding", "rule"}


@pytest.fixture
def leeks() -> PurchaseOrder:
    """2 cases of 5 kg of leeks on Tuesday: 2 kg are there, 12 kg are needed on Wednesday."""
    small_kitchen.load()
    draw_up_orders(as_of=AS_OF)
    return PurchaseOrder.objects.drafts().get(supplier__code="GRO", location__code="COM")


def a_buyer() -> Viewer:
    return viewer_of(make.member("buyer", sees_cost=True))


@pytest.mark.parametrize(("family", "seed"), [("A", 3), ("B", 5), ("B", 8)])
def test_with_our_cases_the_reasons_are_those_of_the_run(
    family: str, seed: int, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    """Although only a few items are worked out, and on a page instead of in a run. What a
    bridge or a price break adds is the run's own."""
    settings.REORDER_PATHS = 40
    settings.REORDER_BRIDGE = settings.REORDER_PRICE_BREAKS = False
    monkeypatch.setattr(what_if, "PATHS", 40)
    book = generate(family, seed)
    sheets = [TextSheet(name, rows) for name, rows in book.sheets.items()]
    load_sheets(sheets, by=None, at=timezone.now())
    as_of = _moment(book.as_of)
    draw_up_orders(as_of=as_of)
    drafts = PurchaseOrder.objects.drafts()
    assert drafts.exists()
    for draft in drafts:
        lines = list(draft.lines.select_related("item", "offer"))
        seen = look_ahead(draft, [(line, line.cases) for line in lines[:2]], as_of=as_of)
        assert seen is not None
        for line in lines[:2]:
            decision = seen.lines[line.pk].decision
            told = reasons_document(decision.reasons, line.item.code, seen.measures)
            assert _of_the_cases(told) == _of_the_cases(line.reasons)


def test_what_bridges_the_days_until_a_draft_comes_is_on_its_picture(
    leeks: PurchaseOrder,
) -> None:
    """12 kg are needed on Wednesday: 2 there, 5 of this draft, 5 of somebody else's."""
    line = leeks.lines.select_related("item", "offer").get()
    offer = make.offer(item=line.item, pack_qty=Decimal(5))
    other = make.order(
        status="draft", supplier=offer.supplier, location=leeks.location, delivery=leeks.delivery
    )
    make.order_line(other, offer=offer, cases=1, pack_qty=Decimal(5), pack_base=Decimal(5000))
    seen = look_ahead(leeks, [(line, 1)], as_of=AS_OF)
    assert seen is not None
    assert seen.lines[line.pk].decision.reasons.stockout_chance_with == 0
    PurchaseOrder.objects.filter(pk=other.pk).update(skipped_at=AS_OF)
    alone = look_ahead(leeks, [(line, 1)], as_of=AS_OF)
    assert alone is not None
    assert alone.lines[line.pk].decision.reasons.stockout_chance_with == 1


def test_demand_is_drawn_once_for_several_looks_and_again_when_the_past_changes(
    leeks: PurchaseOrder, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[str] = []
    real = Run.demand

    def counted(run: Run, horizon: Any, seed: int) -> Any:
        drawn.append("demand")
        return real(run, horizon, seed)

    monkeypatch.setattr(Run, "demand", counted)
    what_if._drawn.clear()
    line = leeks.lines.select_related("item", "offer").get()
    for cases in (1, 2, 3):
        look_ahead(leeks, [(line, cases)], as_of=AS_OF)
    assert len(drawn) == 1
    Usage.objects.create(
        location=leeks.location, item=line.item, date=date(2026, 2, 27), qty=3, unit="kg"
    )
    look_ahead(leeks, [(line, 1)], as_of=AS_OF)
    assert len(drawn) == 2


def test_fewer_cases_run_out_and_more_go_to_waste_or_stay(leeks: PurchaseOrder) -> None:
    line = leeks.lines.select_related("item", "offer").get()
    chances = []
    for cases in (0, 1, 2, 9):
        seen = look_ahead(leeks, [(line, cases)], as_of=AS_OF)
        assert seen is not None
        chances.append(seen.lines[line.pk].decision.reasons.stockout_chance_with)
    assert chances == [1, 1, 0, 0]


def test_the_page_says_what_follows_in_words(leeks: PurchaseOrder) -> None:
    line = leeks.lines.get()
    order = order_for(a_buyer(), leeks.number)
    tried = try_cases(order, {line.pk: 1}, {line.pk}, sees=True, as_of=AS_OF)
    assert tried is not None
    follows = tried.lines[line.pk]
    assert tried.total == "9.50"
    assert follows.chance == "running out before the next delivery: all but certain"
    assert follows.runs_out == "runs out on Wed 4 Mar"
    assert follows.money == "9.50 for the line, 1.90 per kg"
    rows = {row.day: row for row in follows.picture.rows}
    assert (rows["Mon 2 Mar"].about, rows["Tue 3 Mar"].about) == ("2", "7")
    assert (rows["Tue 3 Mar"].comes, rows["Wed 4 Mar"].use) == ("5", "12")
    assert "It may run out on Wed." in follows.picture.told


def test_money_is_left_out_for_those_who_may_not_see_it(leeks: PurchaseOrder) -> None:
    line = leeks.lines.get()
    order = order_for(a_buyer(), leeks.number)
    tried = try_cases(order, {line.pk: 9}, {line.pk}, sees=False, as_of=AS_OF)
    assert tried is not None
    assert (tried.total, tried.lines[line.pk].money) == ("", "")


def test_after_the_delivery_day_nothing_is_tried(leeks: PurchaseOrder) -> None:
    line = leeks.lines.get()
    later = AS_OF + timedelta(days=3)
    order = order_for(a_buyer(), leeks.number)
    assert try_cases(order, {line.pk: 1}, {line.pk}, sees=True, as_of=later) is None


def test_an_order_that_is_out_is_seen_without_itself(leeks: PurchaseOrder) -> None:
    """Else its cases would count twice."""
    small_kitchen.approve(leeks)
    line = leeks.lines.select_related("item", "offer").get()
    leeks.refresh_from_db()
    seen = look_ahead(leeks, [(line, 0)], as_of=AS_OF + timedelta(minutes=1))
    assert seen is not None
    assert seen.lines[line.pk].decision.reasons.stockout_chance_with == 1


def test_what_does_not_come_is_told_with_who_else_sells_it(leeks: PurchaseOrder) -> None:
    small_kitchen.approve(leeks)
    cut_short(leeks, 0)
    other = make.supplier(
        code="FAST", name="Fast Greens", order_days=[0, 1], cutoff="18:00", delivery_days=[1, 2]
    )
    item = leeks.lines.get().item
    offer = make.offer(supplier=other, item=item, pack_qty=Decimal(4))
    offer.prices.create(price=Decimal(11))
    (missed,) = what_is_missed(order_for(a_buyer(), leeks.number), as_of=AS_OF)
    assert missed.told == "Leeks may run out from Wed 4 Mar on: all but certain"
    (one,) = missed.others
    assert (one.offer, one.cases, one.price) == (offer, 3, Decimal(11))  # 10 kg in cases of 4 kg
    assert (one.comes, one.by, one.in_time) == ("Tue 3 Mar", "Mon 18:00", True)
    assert one.per_unit == "2.75 per kg"


def test_what_the_supplier_can_bring_later_is_not_missed(leeks: PurchaseOrder) -> None:
    """A loaded order does not say when more can come: the calendar does, on Thursday."""
    small_kitchen.book("COM", "2026-03-10", "LEEK", 20)
    small_kitchen.approve(leeks)
    PurchaseOrder.objects.filter(pk=leeks.pk).update(next_delivery=None)
    OrderLine.objects.filter(order=leeks).update(cases=4)
    cut_short(leeks, 2)
    (missed,) = what_is_missed(order_for(a_buyer(), leeks.number), as_of=AS_OF)
    assert missed.told == "Leeks lasts until the next delivery all the same"


def test_where_no_later_delivery_is_known_four_weeks_are_assumed_and_said(
    leeks: PurchaseOrder,
) -> None:
    """R2: neither the order nor the calendar names a day after 3 March."""
    small_kitchen.approve(leeks)
    PurchaseOrder.objects.filter(pk=leeks.pk).update(next_delivery=None)
    Supplier.objects.filter(pk=leeks.supplier_id).update(order_days=[], delivery_days=[])
    OrderLine.objects.filter(order=leeks).update(cases=4)
    cut_short(leeks, 0)
    (missed,) = what_is_missed(order_for(a_buyer(), leeks.number), as_of=AS_OF)
    said = "until Tue 31 Mar: no later delivery is known, so four weeks are assumed"
    assert missed.until == said
    page = render_to_string(
        "purchasing/_missed.html", {"missed": [replace(missed, stops=("Truck 1",))]}
    )
    assert f"Fed from it {said}:" in page


def test_a_run_that_assumed_the_next_delivery_says_so_later_too(leeks: PurchaseOrder) -> None:
    small_kitchen.approve(leeks)
    line = leeks.lines.get()
    line.cases, line.reasons = 4, {**line.reasons, "next_delivery_assumed": True}
    line.save()
    cut_short(leeks, 2)
    (missed,) = what_is_missed(order_for(a_buyer(), leeks.number), as_of=AS_OF)
    assert "no later delivery is known, so four weeks are assumed" in missed.told


def test_a_line_nobody_was_asked_about_is_not_told_as_missed(leeks: PurchaseOrder) -> None:
    small_kitchen.approve(leeks)
    OrderLine.objects.filter(order=leeks).update(confirmed_cases=0)
    assert what_is_missed(order_for(a_buyer(), leeks.number), as_of=AS_OF) == ()


def test_what_is_not_missed_is_said_as_well(leeks: PurchaseOrder) -> None:
    small_kitchen.approve(leeks)
    OrderLine.objects.filter(order=leeks).update(cases=4)
    cut_short(leeks, 2)
    (missed,) = what_is_missed(order_for(a_buyer(), leeks.number), as_of=AS_OF)
    assert missed.told == "Leeks lasts until the next delivery all the same"
    assert missed.stops == ()


def cut_short(order: PurchaseOrder, cases: int) -> None:
    """The supplier says that so many cases of its only line come."""
    line = order.lines.get()
    OrderLine.objects.filter(pk=line.pk).update(confirmed_cases=cases)
    Answer.objects.create(line=line, says=Answer.Says.SHORT, cases=cases, at=AS_OF)


def _of_the_cases(reasons: dict[str, Any]) -> dict[str, Any]:
    return {
        key: value
        for key, value in reasons.items()
        if key not in OF_THE_DECISION and key not in {"next_delivery_assumed", "weighed"}
    }


def _moment(text: str) -> datetime:
    return moment(text, BusinessClock(business().time_zone))
