"""How orders leave: once, however often it is pressed; what a crash may do."""

from __future__ import annotations

import smtplib
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail

from inventory.models import Event
from inventory.problems import Refused
from purchasing.models import PurchaseOrder, Sending
from purchasing.services import sending as module
from purchasing.services.orders import approve, cancel
from purchasing.services.outbox import MOST_TRIES, claim_next
from purchasing.services.sending import mark_as_sent, send, send_what_waits
from tests import factories as make
from tests.factories import NOW
from tests.purchasing.services.order_scenes import buyer, draft, fresh, hand, staff

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


def approved(**facts: Any) -> PurchaseOrder:
    return approve(draft(2, 3, **facts).number, hand=hand(buyer()))


def ready(**facts: Any) -> PurchaseOrder:
    order = approved(**facts)
    send(order.number, hand=hand(buyer(email="ines@leek.example")))
    return order


def crash(*args: object, **kwargs: object) -> None:
    raise KeyboardInterrupt


def test_an_order_waits_until_it_is_sent() -> None:
    order = ready()
    assert (fresh(order).status, mail.outbox) == ("approved", [])
    assert send_what_waits(at=NOW).sent == (order.number,)
    assert (fresh(order).status, fresh(order).sent_at) == ("sent", NOW)


def test_the_mail_carries_sheet_and_xml() -> None:
    order = ready()
    send_what_waits(at=NOW)
    (message,) = mail.outbox
    assert message.to == ["orders@growers.example"]
    assert message.reply_to == ["ines@leek.example"]
    assert message.subject == f"Order {order.number} from The kitchen for Thu 5 Mar"
    names = {one[0]: one[2] for one in message.attachments}
    assert names == {
        f"{order.number}.pdf": "application/pdf",
        f"{order.number}.xml": "application/xml",
    }
    assert "   2 x Item" in message.body and "Total 60.00 USD." in message.body
    assert "copy" not in message.subject + message.body


def test_pressed_twice_it_is_sent_once() -> None:
    order = ready()
    send(order.number, hand=hand(buyer()))
    send_what_waits(at=NOW)
    send(order.number, hand=hand(buyer()))
    send_what_waits(at=LATER)
    assert (len(mail.outbox), Sending.objects.count()) == (1, 1)


def test_the_log_says_who_sent_it_where() -> None:
    order = ready()
    send_what_waits(at=NOW)
    event = Event.objects.get(verb="sent")
    assert event.subject == f"order:{order.number}"
    assert event.changes == {"version": 4, "how": "email", "to": "orders@growers.example"}


def test_a_crash_between_sending_and_marking_may_send_a_copy_that_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    order = ready()
    with monkeypatch.context() as broken, pytest.raises(KeyboardInterrupt):
        broken.setattr(module, "_mark", crash)
        send_what_waits(at=NOW)
    assert send_what_waits(at=NOW).sent == ()  # claimed until the lease runs out
    assert send_what_waits(at=LATER).sent == (order.number,)
    first, second = mail.outbox
    assert "copy" not in first.subject
    assert second.subject.endswith("(copy)")
    assert f"This may be a second copy of order {order.number}" in second.body


def test_a_claim_that_is_held_is_nobody_elses() -> None:
    ready()
    assert claim_next(at=NOW) is not None
    assert claim_next(at=NOW) is None


def test_a_server_that_is_down_is_tried_again_later(monkeypatch: pytest.MonkeyPatch) -> None:
    order = ready()
    with monkeypatch.context() as down:
        down.setattr(mail.EmailMessage, "send", _raising(OSError("no route")))
        assert send_what_waits(at=NOW).failed == (order.number,)
    waiting = Sending.objects.get()
    assert (waiting.failure, waiting.stopped_at) == ("OSError: no route", None)
    assert send_what_waits(at=LATER).sent == (order.number,)


def test_after_some_tries_it_is_left_to_people(monkeypatch: pytest.MonkeyPatch) -> None:
    ready()
    monkeypatch.setattr(mail.EmailMessage, "send", _raising(OSError("no route")))
    for hours in range(MOST_TRIES + 2):
        send_what_waits(at=NOW + timedelta(hours=hours))
    stopped = Sending.objects.get()
    assert (stopped.tries, stopped.stopped_at is not None) == (MOST_TRIES, True)


def test_a_letter_that_cannot_be_written_holds_up_no_other() -> None:
    """A line break in a subject is refused by the mail library."""
    order = ready(supplier=make.supplier(email="a@growers.example"))
    broken = ready(supplier=make.supplier(email="b@growers.example"))
    PurchaseOrder.objects.filter(pk=broken.pk).update(number="BROKEN\nORDER")
    done = send_what_waits(at=NOW)
    assert (done.sent, done.failed) == ((order.number,), ("BROKEN\nORDER",))
    assert Sending.objects.get(order=broken).failure.startswith("BadHeaderError")


def test_an_address_that_is_refused_is_not_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    order = ready()
    refusal = smtplib.SMTPRecipientsRefused({"orders@growers.example": (550, b"nobody")})
    with monkeypatch.context() as refusing:
        refusing.setattr(mail.EmailMessage, "send", _raising(refusal))
        send_what_waits(at=NOW)
    assert Sending.objects.get().stopped_at == NOW
    again = send(order.number, to="office@growers.example", hand=hand(buyer(), minutes=5))
    assert send_what_waits(at=LATER).sent == (order.number,)
    assert (again.to, mail.outbox[0].to) == ("office@growers.example", ["office@growers.example"])


def test_a_cancelled_order_does_not_leave() -> None:
    order = ready()
    cancel(order.number, hand=hand(buyer()))
    assert send_what_waits(at=LATER).sent == ()
    assert mail.outbox == []


def test_without_an_address_there_is_no_mail() -> None:
    order = approved(supplier=make.supplier())
    with pytest.raises(Refused, match="has no e-mail address") as refused:
        send(order.number, hand=hand(buyer()))
    assert refused.value.problems[0].field == "to"
    with pytest.raises(Refused, match="'shop' is not an e-mail address"):
        send(order.number, to="shop", hand=hand(buyer()))


@pytest.mark.parametrize("how", ["paper", "phone", "file", "elsewhere"])
def test_what_people_did_is_noted(how: str) -> None:
    order, person = approved(), buyer()
    mark_as_sent(order.number, how, to="Jo at the desk", hand=hand(person))
    row = Sending.objects.get()
    assert (row.how, row.to, row.by, row.sent_at) == (how, "Jo at the desk", person, NOW)
    assert (fresh(order).status, fresh(order).sent_at) == ("sent", NOW)


def test_a_mail_that_waits_is_stopped_by_a_call() -> None:
    order = ready()
    mark_as_sent(order.number, "phone", hand=hand(buyer()))
    send_what_waits(at=LATER)
    assert mail.outbox == []


def test_what_was_sent_is_not_marked_again() -> None:
    order = approved()
    mark_as_sent(order.number, "phone", hand=hand(buyer()))
    with pytest.raises(Refused, match="has been sent"):
        mark_as_sent(order.number, "paper", hand=hand(buyer()))
    assert Sending.objects.count() == 1


def test_there_is_no_other_way() -> None:
    with pytest.raises(Refused, match="Say how it left: printed sheet, by phone"):
        mark_as_sent(approved().number, "pigeon", hand=hand(buyer()))


def test_a_draft_is_not_sent() -> None:
    with pytest.raises(Refused, match="still a draft. Approve it first"):
        send(draft(2).number, hand=hand(buyer()))


def test_staff_do_not_send() -> None:
    with pytest.raises(Refused, match="sends orders"):
        send(approved().number, hand=hand(staff()))


def _raising(error: Exception) -> Any:
    def fail(*args: object, **kwargs: object) -> int:
        raise error

    return fail
