"""Orders through the API: on the version that was read, once, by whoever may."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Inbound, Location
from purchasing.models import Offer, Price, PurchaseOrder
from tests import factories as make
from tests.asking import Answer, Asker, asker

pytestmark = pytest.mark.django_db


@pytest.fixture
def here() -> Location:
    return make.location(code="COM")


@pytest.fixture
def buyer(here: Location) -> Asker:
    return asker("buyer", here, sees_cost=True)


@pytest.fixture
def offer() -> Offer:
    gro = make.supplier(code="GRO", email="orders@gro.example")
    made = make.offer(supplier=gro, item=make.item(code="LEEK"), sku="L5")
    Price.objects.create(offer=made, price=Decimal(12))
    return made


def order(offer: Offer, here: Location, status: str = "draft") -> PurchaseOrder:
    made = make.order(supplier=offer.supplier, location=here, status=status)
    make.order_line(made, offer=offer, our_cases=2)
    return made


@pytest.fixture
def draft(offer: Offer, here: Location) -> PurchaseOrder:
    return order(offer, here)


def act(who: Asker, of: PurchaseOrder, verb: str, body: object = None, **facts: Any) -> Answer:
    facts.setdefault("version", PurchaseOrder.objects.get(pk=of.pk).version)
    return who.post(f"orders/{of.number}/{verb}/", body, **facts)


def line(cases: int, **facts: object) -> dict[str, object]:
    return {"lines": [{"item": "LEEK", "sku": "L5", "cases": cases, **facts}]}


def test_approved_sent_and_answered(buyer: Asker, draft: PurchaseOrder) -> None:
    approved = act(buyer, draft, "approve")
    assert (approved.status, approved.body["status"]) == (200, "approved")
    assert approved.headers["ETag"] == f'"{approved.body["version"]}"' == '"2"'
    assert Inbound.objects.count() == 1
    sent = act(buyer, draft, "mark-sent", {"how": "phone", "to": "Mo"})
    assert (sent.body["status"], sent.body["sendings"][0]["how"]) == ("sent", "phone")
    short = {"item": "LEEK", "sku": "L5", "says": "short", "cases": 1}
    answered = act(buyer, draft, "answers", {"lines": [short]})
    assert answered.body["lines"][0]["confirmed_cases"] == 1


def test_an_approval_is_taken_back(buyer: Asker, draft: PurchaseOrder) -> None:
    act(buyer, draft, "approve")
    assert act(buyer, draft, "undo").body["status"] == "draft"
    assert not Inbound.objects.exists()


def test_sent_once_however_often_it_is_asked(buyer: Asker, draft: PurchaseOrder) -> None:
    act(buyer, draft, "approve")
    for _ in range(2):
        answer = act(buyer, draft, "send", {})
    assert [row["to"] for row in answer.body["sendings"]] == ["orders@gro.example"]


def test_without_the_version_nothing_is_done(buyer: Asker, draft: PurchaseOrder) -> None:
    answer = act(buyer, draft, "approve", version=None)
    assert (answer.status, answer.codes) == (428, ["version_missing"])
    assert PurchaseOrder.objects.get().status == "draft"


def test_a_stale_version_is_told_what_changed(buyer: Asker, draft: PurchaseOrder) -> None:
    act(buyer, draft, "lines", line(5))
    answer = act(buyer, draft, "approve", version=1)
    assert (answer.status, answer.codes) == (409, ["stale"])
    assert f"{draft.lines.get().item.name} 2 to 5 cases" in answer.messages
    assert answer.body["problems"][0]["data"] == {"version": 2, "seen": 1}


def test_the_same_request_again_gets_the_same_answer(buyer: Asker, draft: PurchaseOrder) -> None:
    first = act(buyer, draft, "lines", line(5), key="k1", version=1)
    again = act(buyer, draft, "lines", line(5), key="k1", version=1)
    assert (again.body, again.headers["ETag"]) == (first.body, '"2"')
    assert act(buyer, draft, "lines", line(5), key="k1", version=2).codes == ["key_used"]


def test_cases_change_and_ours_stay_beside_them(buyer: Asker, draft: PurchaseOrder) -> None:
    (row,) = act(buyer, draft, "lines", line(5, why="rain")).body["lines"]
    assert (row["cases"], row["our_cases"], row["touched"], row["why"]) == (5, 2, True, "rain")


def test_wrong_cases_are_told_at_their_line(buyer: Asker, offer: Offer, here: Location) -> None:
    Offer.objects.filter(pk=offer.pk).update(minimum_cases=3)
    answer = act(buyer, order(offer, here), "lines", line(2))
    (problem,) = answer.body["problems"]
    assert (answer.status, problem["code"]) == (422, "below_minimum_cases")
    assert problem["field"] == "lines.0.cases"


def test_lines_that_are_not_there_are_told(buyer: Asker, draft: PurchaseOrder) -> None:
    unknown = {"lines": [{"item": "LEEK", "sku": "L5", "cases": 1}] * 2}
    unknown["lines"] = [*unknown["lines"], {"item": "LARD", "sku": "", "cases": 1}]
    answer = act(buyer, draft, "lines", unknown)
    told = [(one["code"], one["field"]) for one in answer.body["problems"]]
    assert told == [("no_such_line", "lines.2"), ("line_twice", "lines.1")]


def test_a_line_is_added_or_exchanged(buyer: Asker, draft: PurchaseOrder, offer: Offer) -> None:
    big = make.offer(supplier=offer.supplier, item=offer.item, sku="L20", pack_qty=Decimal(20))
    Price.objects.create(offer=big, price=Decimal(40))
    added = act(buyer, draft, "add", {"item": "LEEK", "sku": "L20", "cases": 1})
    assert [(row["sku"], row["cases"]) for row in added.body["lines"]] == [("L5", 2), ("L20", 1)]
    changed = act(buyer, draft, "other-offer", {"item": "LEEK", "sku": "L20", "other_sku": "L99"})
    assert (changed.status, changed.body["problems"][0]["field"]) == (422, "other_sku")
    act(buyer, draft, "lines", {"lines": [{"item": "LEEK", "sku": "L20", "cases": 0}]})


def test_a_delivery_is_skipped_and_taken_up(buyer: Asker, draft: PurchaseOrder) -> None:
    assert act(buyer, draft, "skip", {"why": "holiday"}).body["skipped_why"] == "holiday"
    assert act(buyer, draft, "take-up").body["skipped_at"] is None


def test_cancelled_given_up_confirmed(buyer: Asker, offer: Offer, here: Location) -> None:
    sent = order(offer, here, "sent")
    assert act(buyer, sent, "confirm").body["lines"][0]["confirmed_cases"] == 2
    name = {"item": "LEEK", "sku": "L5"}
    given_up = act(buyer, sent, "give-up", {"lines": [name], "why": "no truck"})
    assert (given_up.body["status"], given_up.body["lines"][0]["given_up_cases"]) == (
        "cancelled",
        "2",
    )
    other = order(offer, here, "approved")
    assert act(buyer, other, "cancel", {}).body["status"] == "cancelled"


def test_an_answer_that_says_too_little_is_refused_at_its_line(
    buyer: Asker, offer: Offer, here: Location
) -> None:
    sent = order(offer, here, "sent")
    for says, field in (("short", "cases"), ("substitute", "substitute"), ("new_date", "new_date")):
        body = {"lines": [{"item": "LEEK", "sku": "L5", "says": says}]}
        answer = act(buyer, sent, "answers", body)
        assert (answer.status, answer.body["problems"][0]["field"]) == (422, f"lines.0.{field}")


def test_above_the_limit_somebody_else_is_named(
    here: Location, offer: Offer, draft: PurchaseOrder
) -> None:
    small = asker("buyer", here, approve_up_to=Decimal(10))
    answer = act(small, draft, "approve")
    assert (answer.status, answer.codes) == (422, ["over_limit"])


def test_who_may_not_is_told_and_who_may_not_see_is_not(
    here: Location, draft: PurchaseOrder
) -> None:
    staff = act(asker("staff", here), draft, "approve")
    assert (staff.status, staff.codes) == (403, ["not_allowed"])
    assert act(asker("buyer", make.location()), draft, "approve").status == 404


def test_those_without_a_flag_are_approved_together(
    buyer: Asker, offer: Offer, here: Location
) -> None:
    plain, changed = order(offer, here), order(make.offer(), here)
    seen = [
        {"number": plain.number, "version": 1},
        {"number": changed.number, "version": 7},
    ]
    answer = buyer.post("orders/approve-unflagged/", {"orders": seen})
    assert answer.body["approved"] == [plain.number]
    assert [row["number"] for row in answer.body["left"]] == [changed.number]


def test_a_line_that_no_run_asked_for(buyer: Asker, offer: Offer, here: Location) -> None:
    body = {"supplier": "GRO", "item": "LEEK", "sku": "L5", "location": "COM", "cases": 3}
    answer = buyer.post("orders/anyway/", body)
    assert (answer.status, answer.body["lines"][0]["cases"]) == (201, 3)
    unknown = buyer.post("orders/anyway/", {**body, "location": "CAFE"})
    assert (unknown.status, unknown.body["problems"][0]["field"]) == (422, "location")
