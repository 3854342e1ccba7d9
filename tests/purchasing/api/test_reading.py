"""What is read of purchasing: narrowed to the reader's places, money only where they see it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from inventory.models import Location
from inventory.services.log import note
from purchasing.models import (
    Answer,
    LotRisk,
    Par,
    Price,
    PriceBreak,
    PurchaseOrder,
    Receipt,
    ReceiptLine,
    ReorderRun,
    RunLine,
    Sending,
    SupplierClosure,
    UseByLook,
)
from tests import factories as make
from tests.asking import Asker, asker

pytestmark = pytest.mark.django_db

LATER = make.NOW + timedelta(hours=1)
REASONS = {"unit": "kg", "target": "52.5", "expected_waste_value": "3.10"}


@pytest.fixture
def here() -> Location:
    return make.location(code="COM")


@pytest.fixture
def there() -> Location:
    return make.location(code="CAFE", kind="kitchen")


@pytest.fixture
def staff(here: Location) -> Asker:
    """Of one place, without cost."""
    return asker("staff", here)


@pytest.fixture
def buyer() -> Asker:
    return asker("buyer", sees_cost=True)


def order(place: Location, **facts: object) -> PurchaseOrder:
    made = make.order(location=place, **facts)
    make.order_line(made, reasons=REASONS)
    return made


def test_an_order_tells_lines_money_and_its_version(here: Location, buyer: Asker) -> None:
    made = order(here, status="draft", version=4)
    line = make.order_line(made, cases=3, our_cases=5, touched=True, touched_why="rain")
    Answer.objects.create(line=line, says="short", cases=1, at=make.NOW)
    Sending.objects.create(order=made, how="phone", asked_at=make.NOW)
    answer = buyer.get(f"orders/{made.number}/")
    body = answer.body
    assert answer.headers["ETag"] == '"4"'
    assert (body["version"], body["location"], body["value"]) == (4, "COM", "60")
    shown = body["lines"][1]
    assert (shown["item"], shown["cases"], shown["our_cases"]) == (line.item.code, 3, 5)
    assert (shown["price"], shown["value"], shown["why"]) == ("12", "36", "rain")
    assert shown["answers"][0]["says"] == "short"
    assert body["sendings"][0]["how"] == "phone"
    assert body["lines"][0]["reasons"] == REASONS


def test_money_is_null_for_people_who_do_not_see_cost(here: Location, staff: Asker) -> None:
    body = staff.get(f"orders/{order(here).number}/").body
    (line,) = body["lines"]
    assert (body["value"], line["price"], line["value"]) == (None, None, None)
    assert line["reasons"] == {"unit": "kg", "target": "52.5"}


def test_orders_to_other_places_are_not_there(
    here: Location, there: Location, staff: Asker, buyer: Asker
) -> None:
    mine, other = order(here), order(there)
    assert [row["number"] for row in staff.get("orders/").rows] == [mine.number]
    assert staff.get(f"orders/{other.number}/").status == 404
    assert staff.get("orders/", location="CAFE").status == 404
    assert [row["number"] for row in buyer.get("orders/", location="CAFE").rows] == [other.number]


def test_orders_by_status_and_supplier(here: Location, buyer: Asker) -> None:
    draft, sent = order(here, status="draft"), order(here)
    assert [row["number"] for row in buyer.get("orders/", status="draft").rows] == [draft.number]
    found = buyer.get("orders/", supplier=sent.supplier.code).rows
    assert [row["number"] for row in found] == [sent.number]
    assert buyer.get("orders/", status="lost").status == 400


def test_orders_changed_since(here: Location, buyer: Asker) -> None:
    order(here, approved_at=make.NOW)
    approved = order(here, approved_at=LATER)
    changed = order(here, status="draft")
    run = ReorderRun.objects.create(as_of=LATER, seed=1, paths=9, worked_out_at=LATER)
    drawn_up = order(here, status="draft", run=run)
    with transaction.atomic():
        note("change", f"order:{changed.number}", by=None, at=LATER)
    rows = buyer.get("orders/", changed_since=LATER.isoformat()).rows
    numbers = {approved.number, changed.number, drawn_up.number}
    assert {row["number"] for row in rows} == numbers


def test_deliveries_are_what_is_coming_to_those_who_receive(here: Location, staff: Asker) -> None:
    sent = order(here)
    for status in ("draft", "received", "cancelled"):
        order(here, status=status)
    assert [row["number"] for row in staff.get("deliveries/").rows] == [sent.number]
    assert asker("truck_lead", here).get("deliveries/").status == 404


def test_receipts_tell_every_term(here: Location, staff: Asker) -> None:
    made = order(here)
    lot = make.lot(5000, at=here)
    receipt = Receipt.objects.create(
        order=made, supplier=made.supplier, location=here, happened_at=make.NOW, recorded_at=LATER
    )
    (line,) = made.lines.all()
    ReceiptLine.objects.create(
        receipt=receipt,
        order_line=line,
        item=line.item,
        lot=lot,
        expected=2,
        accepted=1,
        rejected=1,
    )
    (row,) = staff.get("receipts/", changed_since=LATER.isoformat()).rows
    assert (row["order"], row["supplier"]) == (made.number, made.supplier.code)
    (shown,) = row["lines"]
    assert (shown["lot"], shown["accepted"], shown["rejected"]) == (lot.strip, "1", "1")


def test_suppliers_and_offers_with_and_without_prices(buyer: Asker, staff: Asker) -> None:
    sold = make.offer(supplier=make.supplier(code="GRO", minimum_order=Decimal(80)))
    Price.objects.create(offer=sold, price=Decimal("9.5"))
    PriceBreak.objects.create(offer=sold, from_cases=5, price=Decimal(9))
    SupplierClosure.objects.create(supplier=sold.supplier, date=make.TODAY)
    body = buyer.get("suppliers/GRO/").body
    assert (body["minimum_order"], body["closures"]) == ("80", [{"date": "2026-03-04"}])
    assert staff.get("suppliers/GRO/").body["minimum_order"] is None
    (seen,) = buyer.get("offers/", supplier="GRO").rows
    assert seen["prices"] == [{"starts_on": None, "price": "9.5"}]
    assert seen["breaks"] == [{"from_cases": 5, "price": "9"}]
    (hidden,) = staff.get("offers/", item=sold.item.code).rows
    assert (hidden["prices"][0]["price"], hidden["breaks"][0]["price"]) == (None, None)


def test_pars_of_the_readers_places(here: Location, there: Location, staff: Asker) -> None:
    leeks = make.item(code="LEEK")
    for place in (here, there):
        Par.objects.create(location=place, item=leeks, par=Decimal("2.5"), unit="kg", basis="fixed")
    (row,) = staff.get("pars/").rows
    assert (row["location"], row["item"], row["par"], row["weekday"]) == (
        "COM",
        "LEEK",
        "2.5",
        None,
    )


def test_a_run_tells_what_it_considered(here: Location, there: Location, staff: Asker) -> None:
    run = ReorderRun.objects.create(as_of=make.NOW, seed=1, paths=9, worked_out_at=make.NOW)
    for place in (here, there):
        RunLine.objects.create(run=run, location=place, item=make.item(), reasons=REASONS)
    (row,) = staff.get("runs/").rows
    assert row["run"] == run.pk
    (line,) = staff.get(f"runs/{run.pk}/lines/").rows
    assert (line["location"], line["cases"]) == ("COM", 0)
    assert line["reasons"] == {"unit": "kg", "target": "52.5"}
    assert staff.get(f"runs/{run.pk + 1}/lines/").status == 404


def test_the_use_by_board_is_the_newest_look(here: Location, staff: Asker, buyer: Asker) -> None:
    lot, gone = make.lot(500, at=here, use_by=make.TODAY), make.lot(0, at=here)
    for hour in range(2):
        done = make.NOW + timedelta(hours=hour)
        look = UseByLook.objects.create(key=f"k{hour}", asked_at=done, done_at=done)
        for position, one in enumerate((lot, gone)):
            LotRisk.objects.create(
                look=look, position=position, lot=one, location=here, expected=200 + hour,
                chance=Decimal("0.4"), cost=Decimal("0.01"),
            )  # fmt: skip
    (row,) = buyer.get("use-by/").rows
    assert (row["lot"], row["expected"], row["there"]) == (lot.strip, "201", "500")
    assert (row["chance"], row["cost"]) == ("0.4", "0.01")
    assert staff.get("use-by/").rows[0]["cost"] is None


@pytest.mark.parametrize(
    "path",
    ["orders/", "deliveries/", "receipts/", "suppliers/", "offers/", "pars/", "runs/", "use-by/"],
)
def test_queries_do_not_grow_with_rows(
    path: str, here: Location, buyer: Asker, count_queries: Callable[..., int]
) -> None:
    look = UseByLook.objects.create(key="k", asked_at=make.NOW, done_at=make.NOW)
    _rows(3, here, look)
    buyer.get(path)
    few = count_queries(buyer.get, path)
    _rows(57, here, look)
    assert count_queries(buyer.get, path) == few
    assert len(buyer.get(path).rows) == 60


def test_queries_do_not_grow_with_lines_of_a_run(
    here: Location, buyer: Asker, count_queries: Callable[..., int]
) -> None:
    run = ReorderRun.objects.create(as_of=make.NOW, seed=1, paths=9, worked_out_at=make.NOW)
    path = f"runs/{run.pk}/lines/"
    counts = []
    for many in (3, 57):
        for _ in range(many):
            RunLine.objects.create(
                run=run, location=here, item=make.item(), supplier=make.supplier()
            )
        buyer.get(path)
        counts.append(count_queries(buyer.get, path))
    assert counts[0] == counts[1]
    assert len(buyer.get(path).rows) == 60


def _rows(many: int, here: Location, look: UseByLook) -> None:
    for _ in range(many):
        made = order(here)
        (line,) = made.lines.all()
        Answer.objects.create(line=line, says="confirmed", cases=2, at=make.NOW)
        Price.objects.create(offer=line.offer, price=9)
        lot = make.lot(5, at=here)
        receipt = Receipt.objects.create(
            order=made,
            supplier=made.supplier,
            location=here,
            happened_at=make.NOW,
            recorded_at=LATER,
        )
        ReceiptLine.objects.create(
            receipt=receipt, order_line=line, item=line.item, lot=lot, expected=2, accepted=2
        )
        Par.objects.create(location=here, item=line.item, basis="forecast")
        ReorderRun.objects.create(
            as_of=make.NOW, seed=lot.pk, paths=9, worked_out_at=make.NOW, inputs_digest="x"
        )
        LotRisk.objects.create(
            look=look, position=lot.pk, lot=lot, location=here, expected=1, chance=1
        )
