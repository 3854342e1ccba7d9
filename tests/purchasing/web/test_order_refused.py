"""The page of an order: everything wrong said at once, and where its letter went."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Event
from purchasing.models import Offer
from purchasing.services.sending import send_what_waits
from tests import factories as make
from tests.purchasing.web.test_order import act, approved, lines, page_of
from tests.purchasing.web.test_orders import draft, sign_in

pytestmark = pytest.mark.django_db


def test_what_is_no_count_and_what_nobody_sells_are_said_at_once(client: Client) -> None:
    order = draft(2, 3)
    one, two = lines(order)
    Offer.objects.filter(pk=two.offer_id).update(minimum_cases=5)
    sign_in(client)
    for where in ("lines", "approve"):
        typed = {f"cases-{one.pk}": "two", f"cases-{two.pk}": "3", "version": "1"}
        page = act(client, order, where, **typed).content.decode()
        assert f"{one.item.name}: &#x27;two&#x27; is not a count of cases" in page
        assert "sells 5 cases or more; you typed 3." in page
    assert [line.cases for line in lines(order)] == [2, 3]
    order.refresh_from_db()
    assert (order.status, order.version) == ("draft", 1)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, ["Choose what to add, from the list.", "Type how many cases, such as 3."]),
        (
            {"add-cases": "two"},
            ["Choose what to add, from the list.", "&#x27;two&#x27; is not a count of cases"],
        ),
        ({"add-cases": "0"}, ["Choose what to add, from the list.", "Add 1 case or more."]),
        (
            {"add-cases": "two", "offer": "999999"},
            ["does not sell that", "&#x27;two&#x27; is not a count of cases"],
        ),
    ],
)
def test_adding_says_everything_that_is_missing(
    client: Client, typed: dict[str, str], said: list[str]
) -> None:
    order = draft(2)
    sign_in(client)
    answer = act(client, order, "add", **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    for one in said:
        assert one in page
    assert page.count('id="problem-') == len(said)


def test_adding_what_has_no_price_says_so_beside_a_wrong_count(client: Client) -> None:
    order = draft(2)
    offer = make.offer(supplier=order.supplier)
    sign_in(client)
    answer = act(client, order, "add", offer=offer.pk, **{"add-cases": "two"})
    page = answer.content.decode()
    assert "has no price on" in page and "is not a count of cases" in page


def test_a_delivery_is_not_skipped_without_a_word_why(client: Client) -> None:
    order = draft(2)
    sign_in(client)
    answer = act(client, order, "skip", **{"skip-why": "  "})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="problem-skip-why"' in page and "Say why this delivery may pass" in page
    assert "<details open><summary>let this delivery pass" in page
    order.refresh_from_db()
    assert order.skipped_at is None


def test_without_a_mail_server_the_page_says_where_the_letter_went(
    client: Client, settings: Any, tmp_path: Path
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path)
    order = approved()
    sign_in(client)
    page = page_of(client, order)
    assert f"letters are written as files into {tmp_path}, and nothing is sent" in page
    assert "send by e-mail" not in page
    act(client, order, "send", to="new@growers.example")
    page = page_of(client, order)
    assert f"It goes into {tmp_path} as a file: no mail server is named" in page
    assert f"being written as a letter to new@growers.example into {tmp_path}" in page
    send_what_waits(at=timezone.now())
    page = page_of(client, order)
    said = f"as a letter to new@growers.example into {tmp_path}, not sent: no mail server"
    assert said in page and "by e-mail" not in page
    assert [one.suffix for one in tmp_path.iterdir()] == [".log"]
    assert Event.objects.get(verb="sent").changes["folder"] == str(tmp_path)
