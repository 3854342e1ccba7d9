"""Order guides through the API: on the version that was read, under the workbook's rules."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from purchasing.models import Offer, Price, SupplierClosure
from tests import factories as make
from tests.asking import Answer, Asker, asker

pytestmark = pytest.mark.django_db

TERMS = {
    "name": "Marsh Growers",
    "order_days": [0, 2],
    "cutoff": "14:00",
    "lead_days": 1,
    "delivery_days": [1, 3],
    "minimum_order": "80.50",
}
PACK = {"item": "LEEK", "sku": "L5", "pack_qty": "5", "pack_unit": "kg", "price": "9.5"}


@pytest.fixture
def buyer() -> Asker:
    return asker("buyer", sees_cost=True)


@pytest.fixture
def leeks() -> Offer:
    item = make.item(code="LEEK")
    offer = make.offer(supplier=make.supplier(code="GRO"), item=item, sku="L5")
    Price.objects.create(offer=offer, price=Decimal(9))
    return offer


def tag(answer: Answer) -> str:
    return str(answer.headers["ETag"]).strip('"')


def act(who: Asker, verb: str, body: object, **facts: Any) -> Answer:
    return who.post(f"suppliers/GRO/{verb}/", body, **facts)


def test_terms_change_on_the_version_that_was_read(buyer: Asker, leeks: Offer) -> None:
    version = tag(buyer.get("suppliers/GRO/"))
    changed = act(buyer, "change", TERMS, version=version)
    assert changed.status == 200, changed.body
    assert (changed.body["name"], changed.body["order_days"]) == ("Marsh Growers", [0, 2])
    assert (changed.body["cutoff"], changed.body["minimum_order"]) == ("14:00", "80.5")
    stale = act(buyer, "change", TERMS, version=version)
    assert (stale.status, stale.codes) == (409, ["stale"])


def test_a_day_is_closed_and_opened_again(buyer: Asker, leeks: Offer) -> None:
    day = {"date": "2026-03-09"}
    assert act(buyer, "close", day).body["closures"] == [day]
    assert act(buyer, "open", day).body["closures"] == []
    assert act(buyer, "open", day).status == 404
    assert not SupplierClosure.objects.exists()


def test_a_price_from_a_new_day_stands_beside_the_other(buyer: Asker, leeks: Offer) -> None:
    (seen,) = buyer.get("suppliers/GRO/items/LEEK/").body["offers"]
    dearer = {**PACK, "price": "9.9", "valid_from": "2026-12-24"}
    changed = act(buyer, "change-offer", dearer, version=seen["version"])
    assert changed.status == 200, changed.body
    assert changed.body["prices"] == [
        {"starts_on": None, "price": "9"},
        {"starts_on": "2026-12-24", "price": "9.9"},
    ]
    assert changed.body["pack_qty"] == "5"


def test_a_pack_is_added_and_retired(buyer: Asker, leeks: Offer) -> None:
    added = act(buyer, "add-offer", {**PACK, "sku": "L20", "pack_qty": "20"})
    assert (added.status, added.body["sku"]) == (201, "L20")
    again = act(buyer, "add-offer", {**PACK, "sku": "L20"})
    assert (again.status, again.codes) == (422, ["offer_is_there"])
    retired = act(buyer, "retire-offer", {"item": "LEEK", "sku": "L20"})
    assert retired.body["retired_on"] is not None
    assert act(buyer, "retire-offer", {"item": "LARD"}).status == 404


def test_what_is_wrong_is_told_at_its_input(buyer: Asker, leeks: Offer) -> None:
    answer = act(buyer, "add-offer", {**PACK, "sku": "L9", "pack_unit": "cup"})
    assert (answer.status, answer.body["problems"][0]["field"]) == (422, "pack_unit")
    wrong = act(buyer, "change", {**TERMS, "order_days": [], "cutoff": "25:00"}, version="0")
    fields = {one["field"] for one in wrong.body["problems"]}
    assert (wrong.status, fields) == (400, {"order_days", "cutoff"})


def test_guides_are_changed_by_people_of_every_place(leeks: Offer) -> None:
    local = asker("buyer", make.location())
    assert act(local, "close", {"date": "2026-03-09"}).status == 403
