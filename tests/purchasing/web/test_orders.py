"""Orders due: what waits for a decision, and approving what carries no flag."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Location
from purchasing.models import OrderLine, PurchaseOrder
from tests import factories as make
from tests.purchasing.services.order_scenes import draft as plain_draft

pytestmark = pytest.mark.django_db
BACKEND = "django.contrib.auth.backends.ModelBackend"


def draft(*cases: int, hours: int = 6, **facts: Any) -> PurchaseOrder:
    """For the day after tomorrow, order by in some hours."""
    now = timezone.now()
    usual = {
        "delivery": now.date() + timedelta(days=2),
        "next_delivery": now.date() + timedelta(days=4),
        "order_by": now + timedelta(hours=hours),
        "last_order_by": now + timedelta(hours=hours),
    }
    return plain_draft(*cases, **{**usual, **facts})


def sign_in(
    client: Client, role: str = "buyer", place: Location | None = None, **facts: Any
) -> None:
    facts.setdefault("sees_cost", True)
    client.force_login(make.member(role, place, **facts), backend=BACKEND)


def read(client: Client, address: str = "/orders/") -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def press(client: Client, address: str, **typed: Any) -> Any:
    return client.post(address, {"key": uuid.uuid4().hex, **typed})


def test_who_has_not_signed_in_is_asked_to(client: Client) -> None:
    assert client.get("/orders/").status_code == 302


def test_nothing_to_decide_is_said(client: Client) -> None:
    sign_in(client)
    assert "No draft waits for a decision." in read(client)


def test_drafts_stand_by_cutoff_with_value_and_minimum(client: Client) -> None:
    draft(1, hours=9, supplier=make.supplier(name="Granary"))
    draft(2, hours=3, supplier=make.supplier(name="Harbour Dairy", minimum_order=Decimal(20)))
    sign_in(client)
    page = read(client)
    assert page.index("Harbour Dairy") < page.index("Granary")
    assert "24.00" in page and "the minimum of 20.00 is met" in page
    assert "order by" in page


def test_a_draft_that_can_wait_says_until_when(client: Client) -> None:
    later = timezone.now() + timedelta(hours=30)
    draft(1, last_order_by=later)
    sign_in(client)
    assert "it can wait: last chance" in read(client)


FLAGS = [
    ({"hours": -1}, {}, "the cutoff is past"),
    ({"supplier": {"minimum_order": Decimal(100)}}, {}, "below the minimum of 100.00"),
    ({}, {"reasons": {"stockout_chance_with": "0.4"}}, "may run out (4 chances in 10)"),
    (
        {},
        {"reasons": {"stockout_chance_before_delivery": "1"}},
        "may run out before this comes (all but certain)",
    ),
    ({}, {"reasons": {"cannot_cover": ["2026-03-07"]}}, "does not keep for Sat"),
    (
        {},
        {"reasons": {"minimum_top_up": "22.7", "unit": "kg"}},
        ": 23 kg only to reach the minimum",
    ),
    ({}, {"touched": True, "cases": 9}, "we would order 2; you have 9"),
]


@pytest.mark.parametrize(("of_order", "of_line", "words"), FLAGS, ids=[row[2] for row in FLAGS])
def test_what_needs_a_look_is_flagged(
    client: Client, of_order: dict[str, Any], of_line: dict[str, Any], words: str
) -> None:
    if "supplier" in of_order:
        of_order = {"supplier": make.supplier(**of_order["supplier"])}
    order = draft(2, **of_order)
    OrderLine.objects.filter(order=order).update(**of_line)
    sign_in(client)
    page = read(client)
    assert words in page
    assert "approve the one" not in page


def test_what_a_person_typed_is_no_top_up(client: Client) -> None:
    order = draft(2)
    reasons = {"minimum_top_up": "22.7", "unit": "kg"}
    OrderLine.objects.filter(order=order).update(touched=True, reasons=reasons)
    sign_in(client)
    assert "only to reach the minimum" not in read(client)


def test_a_price_that_moved_since_the_last_order_is_flagged(client: Client) -> None:
    order = draft(2)
    line = order.lines.get()
    before = draft(1, status="received", received_at=timezone.now(), approved_at=timezone.now())
    PurchaseOrder.objects.filter(pk=before.pk).update(delivery=order.delivery - timedelta(days=7))
    OrderLine.objects.filter(order=before).update(offer=line.offer, item=line.item, price=10)
    sign_in(client)
    assert "went from 10.00 to 12.00 a case" in read(client)


def test_the_unflagged_are_approved_with_one_press(client: Client) -> None:
    calm, late = draft(1), draft(1, hours=-1)
    sign_in(client)
    assert "approve the one that carries no flag" in read(client)
    answer = press(client, "/orders/approve/", seen=[f"{calm.number}:1", f"{late.number}:1"])
    assert (answer.status_code, answer.url) == (302, "/orders/")
    calm.refresh_from_db()
    late.refresh_from_db()
    assert (calm.status, late.status) == ("approved", "draft")
    page = read(client)
    assert "1 order approved." in page
    assert f"{late.number} was left: the cutoff is past" in page


def test_pressing_twice_approves_once(client: Client) -> None:
    order = draft(1)
    sign_in(client)
    form = {"key": "same", "seen": [f"{order.number}:1"]}
    assert [client.post("/orders/approve/", form).status_code for _ in range(2)] == [302, 302]
    order.refresh_from_db()
    assert order.version == 2


def test_above_the_limit_there_is_nothing_to_press(client: Client) -> None:
    draft(9)
    sign_in(client, approve_up_to=Decimal(50))
    assert "carries no flag" not in read(client)


def test_money_is_for_those_who_may_see_it(client: Client) -> None:
    draft(2, supplier=make.supplier(minimum_order=Decimal(100)))
    sign_in(client, sees_cost=False)
    page = read(client)
    assert "24.00" not in page and "100.00" not in page


def test_orders_of_other_places_are_not_there(client: Client) -> None:
    here = make.location()
    mine, other = draft(1, location=here), draft(1)
    sign_in(client, place=here)
    page = read(client)
    assert mine.number in page and other.number not in page
    assert client.get(f"/orders/{other.number}/").status_code == 404


def test_staff_may_look_but_not_press(client: Client) -> None:
    order = draft(1)
    sign_in(client, "staff")
    assert order.number in read(client)
    assert press(client, "/orders/approve/", seen=[f"{order.number}:1"]).status_code == 404


def test_what_was_skipped_stands_apart(client: Client) -> None:
    order = draft(1)
    person = make.user(first_name="Ines")
    PurchaseOrder.objects.filter(pk=order.pk).update(
        skipped_at=timezone.now(), skipped_by=person, skipped_why="closed for repairs"
    )
    sign_in(client)
    page = read(client)
    assert "No draft waits for a decision." in page
    assert "by Ines: closed for repairs" in page


def test_queries_do_not_grow(client: Client, count_queries: Callable[..., int]) -> None:
    sign_in(client)
    for _ in range(3):
        draft(1, 2)
    few = count_queries(client.get, "/orders/")
    for _ in range(57):
        draft(1, 2)
    assert count_queries(client.get, "/orders/") == few
