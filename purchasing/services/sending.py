"""How an approved order leaves: once, however often it is pressed.

An order sent by e-mail waits in the outbox until ``send_what_waits`` finds it, and counts as
sent when the mail server took it. The other ways are done by people, and noted when done.
"""

from __future__ import annotations

import logging
import smtplib
from dataclasses import dataclass
from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage
from django.core.validators import validate_email

from inventory.problems import Problem, Refused
from inventory.roles import Act
from inventory.services.acts import one_act
from inventory.services.log import note
from purchasing import words
from purchasing.models import PurchaseOrder, Sending
from purchasing.papers.pdf import order_pdf
from purchasing.papers.sheet import OrderSheet
from purchasing.papers.ubl import order_xml
from purchasing.selectors.mail import mail_folder
from purchasing.selectors.order_paper import order_paper
from purchasing.services.order_hand import Hand, Status, demand_status, take, written
from purchasing.services.outbox import (
    Claim,
    claim_next,
    mark_sent,
    note_failure,
    stop_waiting,
)

log = logging.getLogger(__name__)

BY_HAND = (Sending.How.PAPER, Sending.How.PHONE, Sending.How.FILE, Sending.How.ELSEWHERE)


@dataclass(frozen=True, slots=True)
class Sent:
    """What ``send_what_waits`` did."""

    sent: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()


@one_act
def send(number: str, *, to: str = "", hand: Hand) -> Sending:
    """Send by e-mail to ``to``, else to the supplier's address. An order that is on its way
    or has been sent is not sent again: the first sending is returned."""
    order = take(number, hand, Act.SEND)
    if known := order.sendings.filter(stopped_at__isnull=True).order_by("pk").last():
        return known
    demand_status(order, Status.APPROVED)
    address = _address(order, to)
    sending = Sending.objects.create(
        order=order, how=Sending.How.EMAIL, to=address, by=hand.by, asked_at=hand.at
    )
    written(order, hand, "send", [], {"to": address})
    return sending


@one_act
def mark_as_sent(number: str, how: str, *, to: str = "", hand: Hand) -> Sending:
    """It left by paper, phone or file, or was typed elsewhere. Refused if it left already."""
    order = take(number, hand, Act.SEND)
    if how not in BY_HAND:
        names = ", ".join(str(one.label) for one in BY_HAND)
        raise Refused(Problem("no_such_way", f"Say how it left: {names}.", "how"))
    demand_status(order, Status.APPROVED)
    stop_waiting(order, at=hand.at)
    sending = Sending.objects.create(
        order=order, how=how, to=to[:254], by=hand.by, asked_at=hand.at, sent_at=hand.at
    )
    _now_sent(order, hand.at)
    written(order, hand, "sent", ["status", "sent_at"], {"how": how, "to": to})
    return sending


def send_what_waits(*, at: datetime) -> Sent:
    """Send the e-mails that wait. Safe to run at any time, by several at once."""
    sent: list[str] = []
    failed: list[str] = []
    while (claim := claim_next(at=at)) is not None:
        number = PurchaseOrder.objects.values_list("number", flat=True).get(pk=claim.order_id)
        (sent if _deliver(claim, at) else failed).append(number)
    return Sent(tuple(sent), tuple(failed))


def _deliver(claim: Claim, at: datetime) -> bool:
    """Nothing is locked while the mail server is spoken to."""
    try:
        _message(claim, at).send()
    except (smtplib.SMTPRecipientsRefused, smtplib.SMTPSenderRefused) as refused:
        note_failure(claim, _in_words(refused), for_good=True, at=at)
        return False
    except Exception as failure:  # whatever is wrong with one letter, the others must leave
        log.warning("order %s could not be sent", claim.order_id, exc_info=True)
        note_failure(claim, _in_words(failure), for_good=False, at=at)
        return False
    return _mark(claim, at=at)


@one_act
def _mark(claim: Claim, *, at: datetime) -> bool:
    order = PurchaseOrder.objects.select_for_update().get(pk=claim.order_id)
    if not mark_sent(claim, at=at):
        return False
    sending = Sending.objects.select_related("by").get(pk=claim.sending_id)
    if order.status == Status.APPROVED:
        _now_sent(order, at)
    order.version += 1
    order.save(update_fields=["status", "sent_at", "version"])
    changes = {"version": order.version, "how": sending.how, "to": sending.to}
    if folder := mail_folder():
        changes["folder"] = folder  # written there and not sent
    note("sent", f"order:{order.number}", by=sending.by, at=at, changes=changes)
    return True


def _now_sent(order: PurchaseOrder, at: datetime) -> None:
    order.status, order.sent_at = Status.SENT, at


def _message(claim: Claim, at: datetime) -> EmailMessage:
    sending = Sending.objects.select_related("by").get(pk=claim.sending_id)
    orders = PurchaseOrder.objects.select_related("supplier", "location", "approved_by", "adds_to")
    sheet = order_paper(orders.get(pk=claim.order_id), at=at, may_be_a_copy=claim.may_be_a_copy)
    answer_to = [sending.by.email] if sending.by and sending.by.email else None
    message = EmailMessage(_subject(sheet), _body(sheet), to=[sending.to], reply_to=answer_to)
    message.attach(f"{sheet.number}.pdf", order_pdf(sheet), "application/pdf")
    message.attach(f"{sheet.number}.xml", order_xml(sheet), "application/xml")
    return message


def _subject(sheet: OrderSheet) -> str:
    copy = " (copy)" if sheet.may_be_a_copy else ""
    day = words.day_name(sheet.delivery)
    return f"Order {sheet.number} from {sheet.buyer.name} for {day}{copy}"


def _body(sheet: OrderSheet) -> str:
    return "\n".join(
        [
            f"Order {sheet.number} from {sheet.buyer.name}",
            f"Please deliver on {words.day_name(sheet.delivery)} to {sheet.deliver_to}.",
            *(
                [f"Our account with you: {sheet.supplier.account}"]
                if sheet.supplier.account
                else []
            ),
            *([_COPY.format(number=sheet.number)] if sheet.may_be_a_copy else []),
            "",
            *(
                f"{line.cases:>4} x {_named(line.item, line.sku, line.pack)}"
                for line in sheet.lines
            ),
            "",
            f"Total {words.money(sheet.total)} {sheet.currency}.",
            "The same order is attached as a sheet (PDF) and as UBL 2.1 (XML).",
            "Please answer this mail if a line is short or not coming.",
            "",
        ]
    )


_COPY = "This may be a second copy of order {number}: deliver it once."


def _named(item: str, sku: str, pack: str) -> str:
    number = f" [{sku}]" if sku else ""
    return f"{item}{number}, case of {pack}"


def _address(order: PurchaseOrder, to: str) -> str:
    address = to.strip() or order.supplier.email
    if not address:
        message = (
            f"{order.supplier} has no e-mail address. Type one, or send the order on paper or "
            f"by phone."
        )
        raise Refused(Problem("no_address", message, "to"))
    try:
        validate_email(address)
    except ValidationError:
        message = f"'{address}' is not an e-mail address. Type one such as orders@shop.example."
        raise Refused(Problem("wrong_address", message, "to")) from None
    return address


def _in_words(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"
