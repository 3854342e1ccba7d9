"""What was decided of a minimum, a bridge and a lower price (R13): said on the order, in the
list of orders due and on the pass, with its reason and what the next best would have cost."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Location
from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder, Supplier
from tests import factories as make
from tests.purchasing.web.test_orders import draft, read, sign_in

pytestmark = pytest.mark.django_db

THEN = timezone.now().date() + timedelta(days=4)
NEXT = words.day_name(THEN)


def short(decision: str, weighed: tuple[str, str, str, str] | None = None) -> PurchaseOrder:
    """24.00 of a minimum of 150.00; below it they take a fee of 15.00."""
    supplier = make.supplier(
        name="Marsh Growers", minimum_order=150, below_minimum="fee", delivery_fee=15
    )
    order = draft(2, supplier=supplier, decision=decision)
    if weighed:
        order.weighed = dict(
            zip(("taken", "cost", "instead", "instead_cost"), weighed, strict=True)
        )
        order.save()
    return order


def everywhere(client: Client, order: PurchaseOrder, **facts: Any) -> list[str]:
    """The order, the orders due, the pass."""
    sign_in(client, **facts)
    return [read(client, address) for address in (f"/orders/{order.number}/", "/orders/", "/")]


@pytest.mark.parametrize(
    ("decision", "weighed", "sentence"),
    [
        (
            "topped_up",
            ("topped_up", "1.20", "wait", "14.00"),
            "Topped up to the minimum of 150.00: 1.20 for what may be thrown away of it and for "
            f"money tied up. Next best: wait for {NEXT}, 14.00 of margin missed.",
        ),
        (
            "topped_up",
            ("topped_up", "0.00", "fee_paid", "15.00"),
            "Topped up to the minimum of 150.00: what is added will be used, and costs nothing "
            "more. Next best: pay the fee of 15.00.",
        ),
        (
            "topped_up",
            None,
            "Topped up to the minimum of 150.00: they refuse less, and it cannot wait.",
        ),
        (
            "wait",
            ("wait", "0.40", "topped_up", "6.10"),
            f"Better left to the delivery of {NEXT}: waiting costs 0.40 of "
            "margin missed, on average. Next best: top up to the minimum, 6.10.",
        ),
        (
            "wait",
            ("wait", "0.00", "fee_paid", "15.00"),
            f"Better left to the delivery of {NEXT}: every line lasts until "
            "then. Next best: pay the fee of 15.00.",
        ),
        (
            "fee_paid",
            ("fee_paid", "15.00", "topped_up", "21.30"),
            "Short of the minimum of 150.00, with the fee of 15.00: the fee costs least. Next "
            "best: top up to the minimum, 21.30.",
        ),
        (
            "fee_paid",
            None,
            "Short of the minimum of 150.00, with the fee of 15.00: nothing more would be used "
            "in time, and it cannot wait.",
        ),
        (
            "cannot_meet_minimum",
            None,
            "They refuse less than the minimum: ring them. Nothing more would be used in time, and "
            "it cannot wait.",
        ),
    ],
)
def test_what_was_decided_of_a_minimum_is_a_sentence(
    client: Client, decision: str, weighed: tuple[str, str, str, str] | None, sentence: str
) -> None:
    for page in everywhere(client, short(decision, weighed)):
        assert sentence in page


@pytest.mark.parametrize("decision", ["met", "none_needed"])
def test_where_nothing_was_to_decide_nothing_is_said(client: Client, decision: str) -> None:
    for page in everywhere(client, short(decision)):
        assert "Next best" not in page
        assert "Topped up" not in page


def test_once_a_person_has_changed_the_lines_it_holds_no_more(client: Client) -> None:
    order = short("topped_up", ("topped_up", "1.20", "wait", "14.00"))
    OrderLine.objects.update(touched=True, cases=1)
    for page in everywhere(client, order):
        assert "Topped up" not in page
    assert "short of the minimum of 150.00" in read(client, f"/orders/{order.number}/")


def test_who_may_not_see_money_reads_what_and_not_how_much(client: Client) -> None:
    order = short("topped_up", ("topped_up", "7123.20", "wait", "8914.00"))
    for page in everywhere(client, order, role="buyer", sees_cost=False):
        assert "Topped up to the minimum." in page
        for sum_of_money in ("150.00", "7,123.20", "8,914.00", "24.00"):
            assert sum_of_money not in page


# Lines: bridges and lower prices.


def weighed(line: OrderLine, taken: str, cost: str, instead: str, lost: str | None) -> None:
    line.reasons = {
        "basis_used": "forecast",
        "unit": "kg",
        "rule": "R13",
        "weighed": [{"taken": taken, "cost": cost, "instead": instead, "instead_cost": lost}],
    }
    line.save()


@pytest.fixture
def bridge() -> PurchaseOrder:
    """Leeks from Fast Veg tomorrow, until Marsh Growers come the day after."""
    fast, slow = make.supplier(name="Fast Veg"), make.supplier(name="Marsh Growers")
    place: Location = make.location()
    first = draft(3, supplier=slow, location=place)
    line = first.lines.get()
    second = draft(1, supplier=fast, location=place, delivery=timezone.now().date())
    other = second.lines.get()
    other.item = line.item
    for one in (line, other):
        weighed(one, "bridge", "20.08", "run_short", "149.11")
    return second


def test_a_bridge_says_until_whom_and_what_running_short_would_cost(
    client: Client, bridge: PurchaseOrder
) -> None:
    sign_in(client)
    page = read(client, f"/orders/{bridge.number}/")
    day = f"{timezone.now().date() + timedelta(days=2):%a}"
    assert (
        f"a bridge until Marsh Growers can come on {day}: 20.08 dearer; running short until "
        "then would miss 149.11 of margin" in page
    )


def test_the_pass_and_the_list_say_how_many_lines_bridge(
    client: Client, bridge: PurchaseOrder
) -> None:
    line = make.order_line(bridge, cases=2, our_cases=2)
    weighed(line, "bridge", "1.92", "run_short", "0.89")
    first = PurchaseOrder.objects.get(supplier__name="Marsh Growers")
    sign_in(client)
    for address in ("/", "/orders/"):
        page = read(client, address)
        assert (
            page.count(
                "2 lines are bridges until the first choice can come: 22.00 dearer; running short "
                "until then would miss 150.00 of margin."
            )
            == 1
        )
    assert first.lines.get().reasons["weighed"]  # and yet it is not the bridge


def test_the_pass_and_the_list_say_what_lower_prices_save(client: Client) -> None:
    order = draft(4, 6)
    for line in order.lines.all():
        weighed(line, "price_break", "-3.53", "as_needed", "0.00")
    sign_in(client)
    for address in ("/", "/orders/"):
        page = read(client, address)
        assert "2 lines take more for a lower price, which saves 7.06." in page
    sign_in(client, sees_cost=False)
    assert "7.06" not in read(client, "/orders/")


def test_the_first_choice_names_who_bridges(client: Client, bridge: PurchaseOrder) -> None:
    first = PurchaseOrder.objects.get(supplier__name="Marsh Growers")
    sign_in(client)
    page = read(client, f"/orders/{first.number}/")
    assert f"Fast Veg brings some on {timezone.now().date():%a}, to last until then" in page
    assert "dearer" not in page


def test_a_bridge_where_margins_are_not_known(client: Client, bridge: PurchaseOrder) -> None:
    weighed(bridge.lines.get(), "bridge", "-1.50", "run_short", None)
    sign_in(client)
    page = read(client, f"/orders/{bridge.number}/")
    assert "no dearer; what running short costs is not known, its chance decided" in page


def test_a_bridge_without_money(client: Client, bridge: PurchaseOrder) -> None:
    sign_in(client, sees_cost=False)
    page = read(client, f"/orders/{bridge.number}/")
    assert "a bridge until Marsh Growers can come" in page
    assert "20.08" not in page


def test_a_lower_price_that_was_taken_says_what_it_saves(client: Client) -> None:
    order = draft(4)
    weighed(order.lines.get(), "price_break", "-3.53", "as_needed", "0.00")
    sign_in(client)
    page = read(client, f"/orders/{order.number}/")
    assert "saves 3.53, after what may be thrown away and money tied up" in page


def test_a_lower_price_that_was_left_says_why(client: Client) -> None:
    order = draft(4)
    weighed(order.lines.get(), "as_needed", "0.00", "price_break", "3.10")
    sign_in(client)
    page = read(client, f"/orders/{order.number}/")
    assert "more for a lower price would cost 3.10 in waste and money tied up" in page


def test_queries_do_not_grow_with_bridges(
    client: Client, bridge: PurchaseOrder, count_queries: Callable[..., int]
) -> None:
    sign_in(client)
    address = f"/orders/{bridge.number}/"
    few = count_queries(client.get, address)
    for _ in range(9):
        weighed(make.order_line(bridge), "bridge", "1.00", "run_short", None)
    assert count_queries(client.get, address) == few


def test_flags_with_money_are_not_for_those_who_may_not_see_it(client: Client) -> None:
    order = short("fee_paid")
    Supplier.objects.update(below_minimum="refuse")
    assert "below the minimum of 150.00" in everywhere(client, order)[0]
    for page in everywhere(client, order, sees_cost=False):
        assert "150.00" not in page


def test_a_sum_is_a_figure_of_money(client: Client) -> None:
    order = short("topped_up", ("topped_up", "1204.5", "fee_paid", "15.00"))
    assert Decimal(order.weighed["cost"]) == Decimal("1204.5")
    assert "1,204.50 for what may be thrown away" in everywhere(client, order)[0]
