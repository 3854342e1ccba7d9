"""An order in words: its name, its state with a time and a name, its minimum."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.engine.dates import BusinessClock
from purchasing import words
from purchasing.models import PurchaseOrder, Sending
from purchasing.selectors.flags import Committed
from purchasing.selectors.mail import mail_folder

Status = PurchaseOrder.Status


def named(order: PurchaseOrder) -> str:
    """Harbour Dairy, Wed 4 Mar, 2nd: the count where there is more than one."""
    count = order.number.rpartition("-")[2]
    nth = f", {words.ordinal(int(count))}" if count.isdigit() and int(count) > 1 else ""
    return f"{order.supplier.name}, {words.day_name(order.delivery)}{nth}"


def person(user: User | None) -> str:
    return (user.get_full_name() or user.get_username()) if user else ""


def when(at: datetime, clock: BusinessClock) -> str:
    return f"{clock.local(int(at.timestamp())):%a %H:%M}"


def state_of(order: PurchaseOrder, clock: BusinessClock) -> str:
    """approved Wed 06:12 by Ines; sent Wed 06:13 by e-mail to orders@dairy.example. Reads the
    run, the people and the sendings that came with the order."""
    return "; ".join(_states(order, clock)) or str(order.get_status_display())


def _states(order: PurchaseOrder, clock: BusinessClock) -> Iterator[str]:
    if order.status == Status.DRAFT:
        yield _draft(order, clock)
        return
    if order.approved_at is not None:
        yield _by(_("approved %(when)s"), order.approved_at, order.approved_by, clock)
    for sending in order.sendings.all():
        yield _sending(sending, clock)
    closing = (
        (_("came in %(when)s"), order.received_at),
        (_("settled %(when)s"), order.settled_at),
        (_("cancelled %(when)s"), order.cancelled_at),
    )
    for sentence, at in closing:
        if at is not None:
            yield sentence % {"when": when(at, clock)}


def _draft(order: PurchaseOrder, clock: BusinessClock) -> str:
    if order.skipped_at is not None:
        told = _by(_("skipped %(when)s"), order.skipped_at, order.skipped_by, clock)
        return f"{told}: {order.skipped_why}" if order.skipped_why else told
    worked_out = ""
    if order.run is not None:
        worked_out = _(", worked out %(when)s") % {"when": when(order.run.as_of, clock)}
    changed = _(", changed by hand") if order.touched else ""
    return _("draft") + worked_out + changed


def _by(sentence: str, at: datetime, user: User | None, clock: BusinessClock) -> str:
    told = sentence % {"when": when(at, clock)}
    return f"{told} {_('by')} {person(user)}" if user else told


def _sending(sending: Sending, clock: BusinessClock) -> str:
    how = str(sending.get_how_display())
    to = f" {_('to')} {sending.to}" if sending.to else ""
    folder = mail_folder() if sending.how == Sending.How.EMAIL else ""
    if sending.sent_at is not None:
        moment = when(sending.sent_at, clock)
        if folder:
            told = {"when": moment, "to": to, "folder": folder}
            sentence = _(
                "written %(when)s as a letter%(to)s into %(folder)s, not sent: no mail server"
            )
            return sentence % told
        facts = {"when": moment, "how": _HOW.get(sending.how, how), "to": to}
        return _("sent %(when)s %(how)s%(to)s") % facts
    if sending.failure:
        facts = {"to": to, "why": sending.failure}
        again = "" if sending.stopped_at else _("; it is tried again")
        return _("not sent%(to)s: %(why)s") % facts + again
    if sending.stopped_at is not None:
        return _("held back %(when)s") % {"when": when(sending.stopped_at, clock)}
    if folder:
        return _("being written as a letter%(to)s into %(folder)s") % {"to": to, "folder": folder}
    return _("on its way by e-mail%(to)s") % {"to": to}


_HOW = {
    Sending.How.EMAIL.value: gettext_lazy("by e-mail"),
    Sending.How.PAPER.value: gettext_lazy("on paper"),
    Sending.How.PHONE.value: gettext_lazy("by phone"),
    Sending.How.FILE.value: gettext_lazy("as a file"),
    Sending.How.ELSEWHERE.value: gettext_lazy("by typing it elsewhere"),
}


def minimum_words(order: PurchaseOrder, value: Decimal, approved: Committed) -> str:
    """What is on it against the supplier's minimum, with what is approved for the same day."""
    minimum = order.supplier.minimum_order
    if not minimum:
        return _("there is no minimum")
    key = order.supplier_id, order.location_id, order.delivery
    there = value + approved.get(key, Decimal(0))
    said = {"minimum": words.money(minimum), "gap": words.money(minimum - there)}
    if there >= minimum:
        return _("the minimum of %(minimum)s is met") % said
    if order.supplier.below_minimum == order.supplier.BelowMinimum.FEE:
        said["fee"] = words.money(order.supplier.delivery_fee or Decimal(0))
        return _("%(gap)s short of the minimum of %(minimum)s: a fee of %(fee)s") % said
    return _("%(gap)s short of the minimum of %(minimum)s: they refuse less") % said
