"""What follows from other cases, asked through the API; nothing is stored."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.api.base import Operation
from purchasing.models import PurchaseOrder
from purchasing.services.reorder import draw_up_orders
from tests import factories as make
from tests.asking import asker
from tests.purchasing.services import small_kitchen

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(monkeypatch: pytest.MonkeyPatch) -> PurchaseOrder:
    """2 cases of 5 kg of leeks for the commissary, on Monday for Tuesday."""
    monkeypatch.setattr(Operation, "now", lambda self: small_kitchen.AS_OF)
    small_kitchen.load()
    draw_up_orders(as_of=small_kitchen.AS_OF)
    return PurchaseOrder.objects.get(supplier__code="GRO", location__code="COM")


def test_other_cases_are_worked_out_day_by_day(draft: PurchaseOrder) -> None:
    buyer = asker("buyer", sees_cost=True)
    path = f"orders/{draft.number}/what-if/"
    enough = buyer.get(path, item="LEEK", cases=2).body
    none = buyer.get(path, item="LEEK", cases=0).body
    assert (enough["line"]["cases"], none["line"]["cases"]) == (2, 0)
    assert enough["days"][0]["day"] == "2026-03-02"
    on_tuesday = enough["days"][1]
    assert (on_tuesday["arrives"], on_tuesday["middle"]) == ("10", "12")
    assert Decimal(none["days"][2]["short"]) == 1
    assert draft.lines.get().cases == 2


def test_money_is_left_out_for_those_who_do_not_see_it(draft: PurchaseOrder) -> None:
    path = f"orders/{draft.number}/what-if/"
    seen = asker("buyer", sees_cost=True).get(path, item="LEEK", cases=2).body["line"]
    hidden = asker("buyer").get(path, item="LEEK", cases=2).body["line"]
    assert {"price", "line_value"} == seen.keys() - hidden.keys()
    assert "expected_waste_value" not in hidden["reasons"]


def test_what_is_not_on_the_order_is_not_there(draft: PurchaseOrder) -> None:
    buyer = asker("buyer")
    path = f"orders/{draft.number}/what-if/"
    assert buyer.get(path, item="LARD", cases=2).status == 404
    assert buyer.get(path, item="LEEK").status == 400
    elsewhere = asker("buyer", make.location())
    assert elsewhere.get(path, item="LEEK", cases=2).status == 404
