"""What is still to come of an order is one figure: on the pass, on the list of deliveries, at
the dock and on the order itself."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Location
from inventory.selectors.viewers import viewer_of
from purchasing.models import PurchaseOrder
from purchasing.selectors.on_order import cases_to_come
from purchasing.services.answers import Said, note_answers
from purchasing.services.order_hand import Hand
from tests import factories as make
from tests.purchasing.services.dock_scenes import dry, ordered

pytestmark = pytest.mark.django_db
BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def mill() -> Location:
    return make.location(name="Mill Lane")


def coming(mill: Location) -> PurchaseOrder:
    """Three lines of five cases each, due today."""
    goods = (dry(name="Barley"), dry(name="Oats"), dry(name="Rice"))
    return ordered(*goods, place=mill, delivery=timezone.now().date())


def answer(order: PurchaseOrder, **facts: object) -> None:
    person = make.member("buyer")
    said = [Said(order.lines.get(item__name="Barley").pk, **facts)]  # type: ignore[arg-type]
    note_answers(order.number, said, hand=Hand(viewer_of(person), person, timezone.now()))


def counts(client: Client, order: PurchaseOrder, mill: Location) -> list[str]:
    """On the pass, the list, the dock and the order; nothing where the order does not stand."""
    client.force_login(make.member("manager", mill), backend=BACKEND)
    found = []
    for address in (
        "/",
        "/deliveries/",
        f"/deliveries/{order.number}/",
        f"/orders/{order.number}/",
    ):
        text = re.sub(r"<[^>]+>|\s+", " ", client.get(address).content.decode())
        count = re.search(r"(\d+)\s+cases?\b", text)
        found.append(count[1] if count else "")
    return found


def test_before_any_answer(client: Client, mill: Location) -> None:
    assert counts(client, coming(mill), mill) == ["15"] * 4


@pytest.mark.parametrize(
    ("facts", "left"),
    [
        ({"says": "not_coming"}, "10"),
        ({"says": "short", "cases": 2}, "12"),
        ({"says": "confirmed"}, "15"),
    ],
)
def test_after_an_answer(
    client: Client, mill: Location, facts: dict[str, object], left: str
) -> None:
    order = coming(mill)
    answer(order, **facts)
    assert counts(client, order, mill) == [left] * 4
    assert cases_to_come(order.lines.all()) == Decimal(left)


def test_what_comes_on_another_day_is_still_to_come(client: Client, mill: Location) -> None:
    order = coming(mill)
    answer(order, says="new_date", new_date=timezone.now().date() + timedelta(days=9))
    assert counts(client, order, mill) == ["15"] * 4


def test_an_order_of_which_nothing_comes_is_not_waited_for(client: Client, mill: Location) -> None:
    order = coming(mill)
    order.lines.update(confirmed_cases=0)
    client.force_login(make.member("manager", mill), backend=BACKEND)
    for address in ("/", "/deliveries/"):
        assert order.supplier.name not in client.get(address).content.decode()
