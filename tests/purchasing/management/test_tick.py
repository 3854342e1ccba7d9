"""The tick command: what cron runs where there is no worker."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core import mail
from django.core.management import call_command

from purchasing.services.orders import approve
from purchasing.services.sending import send
from tests.purchasing.services.order_scenes import buyer, draft, hand

pytestmark = pytest.mark.django_db


def tick(*words: str) -> str:
    out = StringIO()
    call_command("tick", *words, stdout=out)
    return out.getvalue()


@pytest.fixture
def number() -> str:
    order = approve(draft(2).number, hand=hand(buyer()))
    send(order.number, hand=hand(buyer()))
    return order.number


def test_what_waits_is_sent(number: str) -> None:
    assert f"Sent: {number}." in tick()
    assert len(mail.outbox) == 1
    assert "Sent" not in tick()


def test_the_document_names_what_was_sent(number: str) -> None:
    document = json.loads(tick("--json"))
    assert (document["sent"], document["failed"]) == ([number], [])


def test_what_could_not_be_sent_is_said(number: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: object, **kwargs: object) -> int:
        raise OSError("no route")

    monkeypatch.setattr(mail.EmailMessage, "send", fail)
    assert f"Could not send: {number}." in tick()
