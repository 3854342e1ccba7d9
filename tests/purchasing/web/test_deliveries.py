"""The list of deliveries, one delivery at the dock, and labels read into its form."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from inventory.models import Lot, OnHand
from purchasing.models import Receipt, ReceiptLine
from tests import factories as make
from tests.purchasing.services.dock_scenes import chilled, dry, frozen
from tests.purchasing.web.dock_rows import (
    LABEL,
    address,
    coming,
    filled,
    name,
    now,
    signed_in,
    weighed,
)

pytestmark = pytest.mark.django_db


def test_what_comes_today_what_is_late_and_what_comes_later(client: Client) -> None:
    day = now().date()
    late = coming(dry(), delivery=day - timedelta(days=1))
    due = coming(dry())
    later = coming(dry(), delivery=day + timedelta(days=2))
    far = coming(dry(), delivery=day + timedelta(days=9))
    signed_in(client)
    shown = client.get("/deliveries/").context["page"]
    assert [[row.number for row in rows] for rows in (shown.late, shown.due, shown.later)] == [
        [late.number],
        [due.number],
        [later.number],
    ]
    assert far.number not in client.get("/deliveries/").content.decode()


def test_drafts_and_other_places_are_not_there(client: Client) -> None:
    coming(dry(), status="draft")
    coming(dry())
    signed_in(client, make.location())
    assert client.get("/deliveries/").context["page"].rows == ()


def test_a_scanned_label_opens_its_delivery(client: Client) -> None:
    coming(dry())
    order = weighed(client)
    answer = client.get("/deliveries/", {"label": LABEL})
    assert answer.status_code == 302
    assert answer["Location"].startswith(f"{address(order)}#line-")


@pytest.mark.parametrize("word", ["beef", "supplier", "PO"])
def test_a_word_finds_by_item_supplier_or_order(client: Client, word: str) -> None:
    order = weighed(client)
    assert client.get("/deliveries/", {"label": word})["Location"].startswith(address(order))


def test_a_label_of_nothing_that_comes_says_so(client: Client) -> None:
    coming(dry())
    signed_in(client)
    page = client.get("/deliveries/", {"label": "01106141410007361010L1"})
    assert "No delivery of these days" in page.content.decode()


def test_a_label_with_a_wrong_number_says_so(client: Client) -> None:
    signed_in(client)
    page = client.get("/deliveries/", {"label": "019061414100012210L1"})
    assert "its last digit should be 1" in page.content.decode()


@pytest.mark.parametrize("path", ["/deliveries/", ""])
def test_queries_do_not_grow(client: Client, count_queries: Callable[..., int], path: str) -> None:
    place = make.location()
    orders = [coming(*[dry() for _ in range(3)], place=place)]
    signed_in(client)
    few = count_queries(client.get, path or address(orders[0]))
    many = coming(*[dry() for _ in range(60)], place=place)
    for _ in range(10):
        coming(dry(), place=place)
    assert count_queries(client.get, path or address(many)) == few


def test_a_delivery_is_taken_in(client: Client) -> None:
    order = coming(chilled(), frozen(), dry())
    user = signed_in(client)
    answer = client.post(address(order), filled(order, document="D 17"))
    receipt = Receipt.objects.get()
    assert (answer.status_code, answer["Location"]) == (302, f"/receipts/{receipt.pk}/")
    assert (receipt.by, receipt.document) == (user, "D 17")
    assert Lot.objects.count() == 3
    assert "The delivery is in: 3 new lots." in client.get(answer["Location"]).content.decode()


def test_a_second_press_makes_no_second_receipt(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    values = filled(order)
    first, second = (client.post(address(order), values) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert (Receipt.objects.count(), Lot.objects.count()) == (1, 1)


def test_what_was_typed_stays_with_every_problem(client: Client) -> None:
    order = coming(chilled())
    signed_in(client)
    values = filled(order, **{"g-chilled-temp": "", name(order, "lot"): "L99"})
    page = client.post(address(order), values)
    assert page.status_code == 422
    text = page.content.decode()
    assert "Read the temperature of the cold group" in text and 'value="L99"' in text
    assert not Receipt.objects.exists()


def test_one_question_for_a_whole_cold_group(client: Client) -> None:
    order = coming(*[chilled() for _ in range(4)], *[frozen() for _ in range(2)])
    signed_in(client)
    values = filled(order, **{"g-chilled-temp": "", "g-frozen-hard": ""})
    problems = client.post(address(order), values).context["problems"]
    assert [problem.field for problem in problems] == ["g-chilled-temp", "g-frozen-hard"]


def test_figures_that_are_none_are_told(client: Client) -> None:
    order = coming(chilled())
    signed_in(client)
    values = filled(order, **{"g-chilled-temp": "cold", name(order, "use_by"): "soon"})
    problems = client.post(address(order), values).context["problems"]
    assert [problem.code for problem in problems] == ["not_a_number", "not_a_day"]


def test_all_that_is_wrong_is_told_in_the_first_round_with_item_and_field(client: Client) -> None:
    order = coming(
        chilled(name="Milk"),
        dry(name="Rice"),
        dry(name="Leaves", traceability_listed=True),
        dry(name="Beans"),
    )
    milk, rice, leaves, beans = order.lines.order_by("pk")
    signed_in(client)
    values = filled(
        order,
        **{
            f"l{milk.pk}-how": "differs",
            f"l{milk.pk}-accepted": "two",
            f"l{rice.pk}-how": "reject",
            f"l{leaves.pk}-use_by": "soon",
            "g-chilled-temp": "",
        },
    )
    del values[f"l{beans.pk}-how"]
    answer = client.post(address(order), values)
    assert answer.status_code == 422
    assert {one.field: one.message for one in answer.context["problems"]} == {
        f"l{milk.pk}-accepted": "Milk, cases we keep: 'two' is not a figure.",
        f"l{leaves.pk}-use_by": "Leaves, use-by: 'soon' is not a day. Type it as 2026-03-04.",
        "g-chilled-temp": "Read the temperature of the cold group, once for all of it.",
        f"l{rice.pk}-reason": "Rice: say why it is rejected.",
        f"l{leaves.pk}-lot": "Leaves is on the traceability list: scan its label, or type the lot "
        "code.",
        f"l{beans.pk}-how": "Beans: nobody looked at it yet. Press 'as ordered', or say what came.",
    }
    assert not Receipt.objects.exists()


def test_a_figure_that_cannot_be_read_is_told_once_and_not_what_follows_from_it(
    client: Client,
) -> None:
    """Neither that weights are missing for cases nobody knows, nor a temperature typed as a
    word as one that was not read."""
    order = weighed(client)
    typed = {
        name(order, "how"): "differs",
        name(order, "accepted"): "both",
        name(order, "weights"): "41 heavy",
        "g-chilled-temp": "cold",
    }
    problems = client.post(address(order), filled(order, **typed)).context["problems"]
    assert [one.message for one in problems] == [
        "Temperature of the chilled group: 'cold' is not a figure.",
        "Beef chuck, cases we keep: 'both' is not a figure.",
        "Beef chuck, weight of each case: 'heavy' is not a figure.",
    ]


def test_a_second_dock_is_told_and_keeps_what_was_typed(client: Client) -> None:
    item = dry()
    order = coming(item)
    values = filled(order, **{name(order, "lot"): "MINE"})
    signed_in(client)
    part = {name(order, "how"): "differs", name(order, "accepted"): "3", "key": "other"}
    client.post(address(order), {**values, **part})
    page = client.post(address(order), values)
    assert page.status_code == 409
    assert "2 cases are still to come" in page.content.decode()
    assert 'value="MINE"' in page.content.decode()
    again = client.post(address(order), {**values, name(order, "expected"): "2"})
    assert again.status_code == 302


def test_a_line_is_rejected_in_a_few_touches(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    values = filled(order, **{name(order, "how"): "reject", name(order, "reason"): "crushed"})
    client.post(address(order), values)
    row = ReceiptLine.objects.get()
    assert (row.rejected, row.reject_reason, row.lot) == (Decimal(5), "crushed", None)


def test_one_case_of_a_line_is_rejected_and_brought_again(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    told = {"how": "reject", "reason": "crushed", "rejected": "1", "again": "yes"}
    values = filled(order, **{name(order, key): value for key, value in told.items()})
    client.post(address(order), values)
    row = ReceiptLine.objects.get()
    assert [int(one) for one in (row.accepted, row.rejected, row.rejected_to_follow)] == [4, 1, 1]
    order.refresh_from_db()
    assert order.status == "sent"


@pytest.mark.parametrize(("rest", "status"), [("follows", "sent"), ("closed", "received")])
def test_what_is_not_here_comes_later_or_not(client: Client, rest: str, status: str) -> None:
    order = coming(dry())
    signed_in(client)
    values = filled(order, **{name(order, "how"): "away", name(order, "rest"): rest})
    client.post(address(order), values)
    order.refresh_from_db()
    assert order.status == status


def test_a_manager_accepts_what_is_too_warm(client: Client) -> None:
    order = coming(chilled())
    signed_in(client, role="manager")
    values = filled(order, **{"g-chilled-temp": "44"})
    page = client.post(address(order), values)
    assert page.status_code == 422
    assert "44 °F" in page.content.decode() and 'id="override"' in page.content.decode()
    assert client.post(address(order), {**values, "override": "chilled at once"}).status_code == 302


def test_a_group_read_in_the_other_unit_is_not_taken_as_cold(client: Client) -> None:
    order = coming(chilled())
    signed_in(client)
    values = filled(order, **{"g-chilled-temp": "7"})
    page = client.post(address(order), values)
    assert page.status_code == 422
    said = "7 °F is frozen: if the thermometer reads °C, choose °C; otherwise"
    assert said in page.content.decode()


def test_staff_see_no_override(client: Client) -> None:
    order = coming(chilled())
    signed_in(client)
    assert 'id="override"' not in client.get(address(order)).content.decode()


def test_prices_are_not_shown_at_the_dock(client: Client) -> None:
    order = coming(dry())
    order.lines.update(price=Decimal("77.31"))
    signed_in(client, role="manager")
    assert "77.31" not in client.get(address(order)).content.decode()


def test_the_device_says_when_it_happened(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    told = now() - timedelta(hours=2)
    client.post(address(order), filled(order, happened_at=told.isoformat()))
    assert Receipt.objects.get().happened_at == told


def test_a_substitute_is_named_by_code(client: Client) -> None:
    order, other = coming(dry()), dry(code="BULGUR")
    signed_in(client)
    told = {
        "how": "differs",
        "accepted": "3",
        "sub_item": "bulgur",
        "sub_cases": "2",
        "sub_qty": "20",
        "sub_allergens_seen": "yes",
    }
    values = filled(order, **{name(order, key): value for key, value in told.items()})
    assert client.post(address(order), values).status_code == 302
    assert OnHand.objects.get(item=other).qty == 20_000


def test_an_unknown_substitute_is_told(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    values = filled(order, **{name(order, "how"): "differs", name(order, "sub_item"): "moon rock"})
    page = client.post(address(order), values)
    item = order.lines.get().item.name
    said = f"{item}, what came instead: there is no item &#x27;moon rock&#x27;"
    assert said in page.content.decode()


def test_two_lots_of_one_line(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    told = {"lot": "A", "cases2": "2", "lot2": "B"}
    client.post(
        address(order), filled(order, **{name(order, key): one for key, one in told.items()})
    )
    rows = OnHand.objects.order_by("lot__supplier_lot").select_related("lot")
    assert [f"{row.lot.supplier_lot} {row.qty:.0f}" for row in rows] == ["A 30000", "B 20000"]


def test_nobody_without_signing_in(client: Client) -> None:
    order = coming(dry())
    for path in ("/deliveries/", address(order), "/bought/", "/labels/", "/dock-token/"):
        assert client.get(path)["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("role", ["truck_lead", "staff"])
def test_a_delivery_of_another_place_is_not_there(client: Client, role: str) -> None:
    order = coming(dry())
    signed_in(client, make.location(), role)
    assert client.get(address(order)).status_code == 404
    assert client.post(address(order), filled(order)).status_code in (404, 422)
    assert not Receipt.objects.exists()


def test_a_delivery_that_is_in_says_so(client: Client) -> None:
    order = coming(dry())
    signed_in(client)
    client.post(address(order), filled(order))
    page = client.get(address(order))
    assert "This order is received; nothing of it is still to come." in page.content.decode()


def test_the_worker_and_the_token(client: Client) -> None:
    user = signed_in(client)
    worker = client.get("/dock-worker.js")
    assert worker["Content-Type"].startswith("text/javascript")
    told = client.get("/dock-token/").json()
    assert (told["user"], bool(told["token"])) == (user.pk, True)
