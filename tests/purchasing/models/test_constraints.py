"""Each constraint of the tables of purchasing bites."""

from __future__ import annotations

from datetime import time, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from purchasing import models as tables
from tests import factories as make
from tests.constraints import Case, Sound, kinds_agree, refused, untried
from tests.factories import NOW, TODAY

MINUS = Decimal("-0.000000001")


@pytest.fixture
def scene(db: None) -> Any:
    order = make.order()
    offer = make.offer(supplier=order.supplier)
    run = tables.ReorderRun.objects.create(
        as_of=NOW, seed=1, paths=1, inputs_digest="x", worked_out_at=NOW
    )
    receipt = tables.Receipt.objects.create(
        supplier=order.supplier, location=order.location, happened_at=NOW, recorded_at=NOW
    )
    return SimpleNamespace(
        supplier=order.supplier,
        place=order.location,
        item=make.item(),
        offer=offer,
        order=order,
        run=run,
        receipt=receipt,
        lot=make.lot(),
        look=tables.UseByLook.objects.create(key="hour", asked_at=NOW),
    )


SOUND: Sound = {
    tables.Supplier: lambda s: {
        "code": "NEW",
        "name": "New",
        "cutoff": time(14),
        "lead_days": 1,
    },
    tables.SupplierClosure: lambda s: {"supplier": s.supplier, "date": TODAY},
    tables.Offer: lambda s: {
        "supplier": s.supplier,
        "item": s.item,
        "pack_qty": 1,
        "pack_unit": "kg",
    },
    tables.Price: lambda s: {"offer": s.offer, "starts_on": TODAY, "price": 0},
    tables.PriceBreak: lambda s: {"offer": s.offer, "from_cases": 1, "price": 0},
    tables.Finding: lambda s: {"kind": "forecasts", "asked_at": NOW},
    tables.Replay: lambda s: {"first": TODAY, "last": TODAY, "asked_at": NOW},
    tables.Par: lambda s: {
        "location": s.place,
        "item": s.item,
        "weekday": 6,
        "basis": "fixed",
        "par": 0,
    },
    tables.ReorderRun: lambda s: {
        "as_of": NOW,
        "seed": 2,
        "paths": 1,
        "inputs_digest": "x",
        "worked_out_at": NOW,
    },
    tables.RunLine: lambda s: {
        "run": s.run,
        "location": s.place,
        "item": s.item,
        "supplier": s.supplier,
    },
    tables.PurchaseOrder: lambda s: {
        "supplier": s.supplier,
        "location": s.place,
        "delivery": TODAY,
    },
    tables.OrderLine: lambda s: {
        "order": s.order,
        "offer": s.offer,
        "item": s.offer.item,
        "cases": 0,
        "pack_qty": 1,
        "pack_unit": "kg",
        "pack_base": 1,
        "price": 0,
        "priced_per": "case",
        "priced_units": 1,
    },
    tables.Sending: lambda s: {"order": s.order, "how": "email", "asked_at": NOW},
    tables.Receipt: lambda s: {
        "supplier": s.supplier,
        "location": s.place,
        "happened_at": NOW,
        "recorded_at": NOW,
    },
    tables.ReceiptLine: lambda s: {"receipt": s.receipt, "item": s.item},
    tables.LotRisk: lambda s: {
        "look": s.look,
        "position": 0,
        "lot": s.lot,
        "location": s.place,
        "expected": 0,
        "chance": 0,
    },
}

CASES = [
    Case("supplier_amounts_not_negative", tables.Supplier, {"minimum_order": MINUS}),
    Case("supplier_amounts_not_negative", tables.Supplier, {"delivery_fee": MINUS}),
    Case("supplier_closure_once", tables.SupplierClosure, twice=True),
    Case("offer_once", tables.Offer, twice=True),
    Case("offer_pack_positive", tables.Offer, {"pack_qty": 0}),
    Case("offer_nominal_positive", tables.Offer, {"nominal_qty": 0}),
    Case("offer_cases_at_least_one", tables.Offer, {"minimum_cases": 0}),
    Case("offer_cases_at_least_one", tables.Offer, {"case_multiple": 0}),
    Case("price_once_per_day", tables.Price, twice=True),
    Case("price_once_per_day_blank", tables.Price, {"starts_on": None}, twice=True),
    Case("price_not_negative", tables.Price, {"price": MINUS}),
    Case("price_break_once", tables.PriceBreak, twice=True),
    Case("price_break_valid", tables.PriceBreak, {"price": MINUS}),
    Case("price_break_valid", tables.PriceBreak, {"from_cases": 0}),
    Case("par_once_per_weekday", tables.Par, twice=True),
    Case("par_once_per_weekday_blank", tables.Par, {"weekday": None}, twice=True),
    Case("par_weekday", tables.Par, {"weekday": 7}),
    Case("par_not_negative", tables.Par, {"par": MINUS}),
    Case("par_where_the_basis_needs_one", tables.Par, {"par": None}),
    Case("par_where_the_basis_needs_one", tables.Par, {"par": None, "basis": "greater"}),
    Case("par_service_level_between_0_and_1", tables.Par, {"service_level": 0}),
    Case("par_service_level_between_0_and_1", tables.Par, {"service_level": 1}),
    Case("run_once", tables.ReorderRun, twice=True),
    Case("run_line_once", tables.RunLine, twice=True),
    Case("run_line_once_blank", tables.RunLine, {"supplier": None}, twice=True),
    Case("order_line_once", tables.OrderLine, twice=True),
    Case("order_line_positive_pack", tables.OrderLine, {"pack_qty": 0}),
    Case("order_line_positive_pack", tables.OrderLine, {"pack_base": 0}),
    Case("order_line_positive_pack", tables.OrderLine, {"priced_units": 0}),
    Case("order_line_cases_not_negative", tables.OrderLine, {"received_cases": MINUS}),
    Case("order_line_cases_not_negative", tables.OrderLine, {"given_up_cases": MINUS}),
    Case("one_sending_waits", tables.Sending, twice=True),
    Case("sending_after_asking", tables.Sending, {"sent_at": NOW - timedelta(seconds=1)}),
    Case("receipt_names_its_source", tables.Receipt, {"supplier": None}),
    Case("receipt_undone_for_a_reason", tables.Receipt, {"undone_at": NOW}),
    Case("receipt_line_brought_again_was_rejected", tables.ReceiptLine, {"rejected_to_follow": 1}),
    Case("receipt_line_adds_up", tables.ReceiptLine, {"accepted": 1}),
    Case("receipt_line_adds_up", tables.ReceiptLine, {"over": 1}),
    Case("receipt_line_not_negative", tables.ReceiptLine, {"accepted": -1, "to_follow": 1}),
    Case("lot_risk_once", tables.LotRisk, twice=True),
    Case("lot_risk_in_order", tables.LotRisk, twice=True),
    Case("lot_risk_is_a_chance", tables.LotRisk, {"chance": Decimal("1.1")}),
    Case("lot_risk_is_a_chance", tables.LotRisk, {"expected": MINUS}),
    Case("replay_days_in_order", tables.Replay, {"last": TODAY - timedelta(days=1)}),
    Case("finding_asked_once", tables.Finding, twice=True),
    Case("finding_answered_when_done", tables.Finding, {"answer": {}}),
    Case("replay_answered_when_ended", tables.Replay, {"answer": {}}),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_database_refuses(case: Case, scene: Any) -> None:
    refused(case, SOUND[case.model](scene))


def test_there_is_one_open_draft_for_a_delivery(scene: Any) -> None:
    """Of orders that went out there may be several."""
    sound = SOUND[tables.PurchaseOrder](scene)
    for number in ("A", "B"):
        tables.PurchaseOrder.objects.create(**sound, number=number, status="approved")
    tables.PurchaseOrder.objects.create(**sound, number="C")
    with pytest.raises(IntegrityError), transaction.atomic():
        tables.PurchaseOrder.objects.create(**sound, number="D")


def test_no_constraint_is_left_untried() -> None:
    assert untried("purchasing", CASES) == {"one_open_draft"}
    assert all(map(kinds_agree, CASES))
