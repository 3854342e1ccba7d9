"""What a replay is given: as it stood on its first morning, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.utils import timezone

from inventory.exchange.book import TextSheet
from inventory.models import Item, Location
from purchasing.engine.replay_inputs import ONE, Arrival, ReplayInputs
from purchasing.exchange.workbook import load_sheets
from purchasing.models import Offer, PurchaseOrder, Receipt, ReceiptLine, Supplier
from purchasing.selectors.replay_document import half_up, plain
from purchasing.selectors.replay_inputs import replay_inputs
from tests import factories as make
from tests.purchasing.exchange.books import clear, rows
from tests.purchasing.selectors.many_items import load_items

FIRST, LAST = date(2026, 3, 2), date(2026, 3, 8)
CountQueries = Callable[..., int]


def used(count: int) -> None:
    days = [FIRST - timedelta(days=n) for n in range(-3, 4)]
    lines = [f"COM,{day},I{n:04},2,kg" for n in range(count) for day in days]
    table = rows("location,date,item,qty,unit", *lines)
    load_sheets([TextSheet("usage", table)], by=None, at=timezone.now())


def given(first: date = FIRST, last: date = LAST) -> ReplayInputs:
    return replay_inputs(first, last).given


@pytest.mark.django_db
def test_lines_of_300_items_take_as_many_queries_as_those_of_20(
    count_queries: CountQueries,
) -> None:
    load_items(20)
    used(20)
    few = count_queries(replay_inputs, FIRST, LAST)
    clear()
    load_items(300)
    used(300)
    assert count_queries(replay_inputs, FIRST, LAST) == few


@pytest.mark.django_db
def test_an_item_that_is_not_sold_by_anybody_has_no_line() -> None:
    load_items(3)
    used(3)
    assert len(given().lines) == 3
    Offer.objects.filter(item__code="I0001").update(retired_on=FIRST)
    assert [line.item for line in given().lines] == ["I0000", "I0002"]


def ordered(**facts: object) -> PurchaseOrder:
    """4 cases of 5 kg for the 4th, approved on the 1st."""
    usual = {
        "supplier": Supplier.objects.get(code="S0"),
        "location": Location.objects.get(code="COM"),
        "delivery": date(2026, 3, 4),
        "approved_at": datetime(2026, 3, 1, tzinfo=UTC),
    }
    order = make.order(**{**usual, **facts})
    item = Item.objects.get(code="I0000")
    offer = Offer.objects.get(item=item)
    make.order_line(order, offer=offer, cases=4, pack_base=Decimal(5000))
    return order


def on_the_way() -> list[Fraction]:
    return [one.cases for one in given().open_orders]


@pytest.mark.django_db
def test_an_order_that_came_since_was_on_its_way_then() -> None:
    load_items(1)
    used(1)
    order = ordered(status="received", received_at=datetime(2026, 3, 4, 9, tzinfo=UTC))
    line = order.lines.get()
    receipt = Receipt.objects.create(
        order=order,
        supplier=order.supplier,
        location=order.location,
        happened_at=datetime(2026, 3, 4, 9, tzinfo=UTC),
        recorded_at=datetime(2026, 3, 4, 9, tzinfo=UTC),
    )
    ReceiptLine.objects.create(
        receipt=receipt, order_line=line, item=line.item, expected=4, accepted=4
    )
    line.received_cases = Decimal(4)
    line.save()
    (coming,) = given().open_orders
    assert coming == Arrival(
        location="COM",
        item="I0000",
        day=date(2026, 3, 4),
        qty=20_000 * ONE,
        unit_cost=Fraction(12, 5000),
        supplier="S0",
        sku="",
        order=order.number,
        cases=Fraction(4),
        case_price=Fraction(12),
    )
    assert given().known.approved_value == {("S0", "COM", date(2026, 3, 4)): 48}


@pytest.mark.django_db
@pytest.mark.parametrize(
    "facts",
    [
        {"approved_at": datetime(2026, 3, 2, 1, tzinfo=UTC)},
        {"status": "draft"},
        {"status": "cancelled"},
        {"delivery": date(2026, 3, 1)},
        {"status": "received", "received_at": datetime(2026, 3, 1, 9, tzinfo=UTC)},
    ],
    ids=["approved later", "a draft", "cancelled", "due before", "in before"],
)
def test_other_orders_were_not(facts: dict[str, object]) -> None:
    load_items(1)
    used(1)
    ordered(**facts)
    assert on_the_way() == []


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (Fraction(1, 200), 2, "0.01"),
        (Fraction(-1, 200), 2, "-0.01"),
        (Fraction(4999, 10**6), 2, "0.00"),
        (Fraction(-1, 10**6), 2, "0.00"),
        (Fraction(2, 3), 4, "0.6667"),
        (Fraction(1), 4, "1.0000"),
        (Fraction(10**15 * 8 + 1, 8), 2, "1000000000000000.13"),
    ],
)
def test_money_is_rounded_half_up_from_its_exact_value(
    value: Fraction, places: int, text: str
) -> None:
    assert half_up(value, places) == text


def test_decimals_are_written_out() -> None:
    assert plain(Fraction("22679.6185")) == "22679.6185"
    assert plain(Fraction(1, 2**20)) == "0.00000095367431640625"
    assert plain(Fraction(300)) == "300"
