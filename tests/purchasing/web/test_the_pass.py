"""The pass: what waits for one person, by deadline."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Location
from inventory.selectors.viewers import viewer_of
from purchasing.selectors.the_pass import Kind, the_pass
from tests import factories as make
from tests.purchasing.web.plan_rows import draft

pytestmark = pytest.mark.django_db
BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def mill() -> Location:
    return make.location(name="Mill Lane commissary")


def read(client: Client, role: str, place: Location | None = None, **facts: object) -> str:
    client.force_login(make.member(role, place, **facts), backend=BACKEND)
    answer = client.get("/")
    assert answer.status_code == 200
    return answer.content.decode()


def test_who_has_not_signed_in_is_asked_to(client: Client) -> None:
    answer = client.get("/")
    assert (answer.status_code, answer.url) == (302, "/sign-in/?next=/")  # type: ignore[attr-defined]


def test_somebody_without_a_place_finds_nothing(client: Client) -> None:
    client.force_login(make.user(), backend=BACKEND)
    assert client.get("/").status_code == 404


def test_nothing_to_do_is_said(client: Client, mill: Location) -> None:
    assert "Nothing waits for you" in read(client, "manager")


def test_the_buyer_finds_drafts_and_the_dock_finds_deliveries(
    client: Client, mill: Location
) -> None:
    order = draft(mill)
    coming = make.order(location=mill, delivery=timezone.now().date())
    make.order_line(coming)
    buyer = read(client, "buyer", mill)
    assert f"{order.supplier.name} for " in buyer
    staff = read(client, "staff", mill)
    assert f"{order.supplier.name} for " not in staff
    assert coming.supplier.name in staff


def test_nothing_of_another_place_is_shown(client: Client, mill: Location) -> None:
    order = draft(make.location())
    assert order.supplier.name not in read(client, "manager", mill)


def test_money_is_for_those_who_see_cost(client: Client, mill: Location) -> None:
    draft(mill)
    assert "48.00 USD" in read(client, "buyer", mill, sees_cost=True)
    assert "48.00" not in read(client, "buyer", mill)


def test_lots_past_their_use_by_come_before_everything(mill: Location) -> None:
    draft(mill)
    make.lot(5, at=mill, use_by=timezone.now().date() - timedelta(days=2))
    make.lot(0, at=mill, use_by=timezone.now().date() - timedelta(days=2))
    tasks = the_pass(viewer_of(make.manager(mill)), timezone.now()).tasks
    assert [task.kind for task in tasks] == [Kind.TAKE_OUT, Kind.APPROVE]
    assert tasks[0].count == 1


def test_tasks_stand_in_order_of_their_deadlines(mill: Location) -> None:
    now = timezone.now()
    for hours in (30, 2, 9):
        order = draft(mill)
        order.order_by = now + timedelta(hours=hours)
        order.save()
    tasks = the_pass(viewer_of(make.manager()), now).tasks
    assert [task.at - now for task in tasks if task.at] == [
        timedelta(hours=hours) for hours in (2, 9, 30)
    ]


def test_approving_is_offered_up_to_the_persons_limit(mill: Location) -> None:
    draft(mill)
    for limit, may in ((Decimal(48), True), (Decimal("47.99"), False)):
        viewer = viewer_of(make.member("buyer", mill, approve_up_to=limit))
        assert [task.may_approve for task in the_pass(viewer, timezone.now()).tasks] == [may]


def test_queries_do_not_grow_with_rows(mill: Location, count_queries: Callable[..., int]) -> None:
    viewer = viewer_of(make.manager())

    def rows(count: int) -> int:
        for _ in range(count):
            draft(mill)
            make.order(location=mill, delivery=timezone.now().date())
            make.lot(5, at=make.location(), use_by=timezone.now().date() - timedelta(days=1))
        return count_queries(the_pass, viewer, timezone.now())

    assert rows(3) == rows(60)
