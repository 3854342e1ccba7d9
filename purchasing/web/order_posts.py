"""What is pressed on the page of an order: one address for each act."""

from __future__ import annotations

from dataclasses import replace

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.problems import Problem, Refused
from inventory.roles import Act, Viewer
from inventory.web.posting import all_at_once
from inventory.web.viewing import page
from purchasing.selectors.mail import mail_folder
from purchasing.selectors.order_page import item_names, order_for
from purchasing.services.answers import confirm_all, note_answers
from purchasing.services.extra_lines import order_anyway
from purchasing.services.order_hand import Hand
from purchasing.services.order_lines import (
    add_line,
    change_lines,
    other_offer,
    skip_delivery,
    take_up,
)
from purchasing.services.orders import approve, cancel, give_up, undo_approval
from purchasing.services.sending import mark_as_sent, send
from purchasing.services.wake import wake
from purchasing.web.order import done_to_order
from purchasing.web.order_forms import chosen, typed_answers, typed_cases, typed_whole

SHORT = {"short", "not_coming", "substitute", "new_date"}


@require_POST
@page(Act.DRAFT)
def order_change(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        wanted, unread = typed_cases(request.POST, item_names(number))
        all_at_once(unread, lambda: change_lines(number, wanted, hand=hand))

    return done_to_order(request, viewer, number, "change", act, said=_("Saved."))


@require_POST
@page(Act.APPROVE)
def order_approve(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """With the cases as they are typed; a form without any approves it as it is."""

    def act(hand: Hand) -> None:
        wanted, unread = typed_cases(request.POST, item_names(number))
        if wanted or unread:
            changed = all_at_once(unread, lambda: change_lines(number, wanted, hand=hand))
            hand = Hand(hand.viewer, hand.by, hand.at, changed.version)
        approve(number, hand=hand)

    said = _("Approved. It is on order from now on; send it next.")
    return done_to_order(request, viewer, number, "approve", act, said=said)


@require_POST
@page(Act.DRAFT)
def order_add(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        unread: list[Problem] = []
        offer = chosen(request.POST, "offer", unread, _("Choose what to add, from the list."))
        cases = typed_whole(request.POST, "add-cases", unread)
        why = request.POST.get("add-why", "").strip()
        all_at_once(unread, lambda: add_line(number, offer, cases, why=why, hand=hand))

    return done_to_order(request, viewer, number, "add", act, said=_("Added."))


@require_POST
@page(Act.DRAFT)
def order_offer(request: HttpRequest, viewer: Viewer, number: str, line: int) -> HttpResponse:
    def act(hand: Hand) -> None:
        unread: list[Problem] = []
        offer = chosen(request.POST, "offer", unread, _("Choose one of the list."))
        all_at_once(unread, lambda: other_offer(number, line, offer, hand=hand))

    said = _("The other pack is on the order instead.")
    return done_to_order(request, viewer, number, f"offer-{line}", act, said=said)


@require_POST
@page(Act.DRAFT)
def order_skip(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        try:
            skip_delivery(number, why=request.POST.get("skip-why", ""), hand=hand)
        except Refused as refused:
            raise Refused([_named(one, "why", "skip-why") for one in refused.problems]) from refused

    said = _("Skipped. Later runs leave this delivery alone.")
    return done_to_order(request, viewer, number, "skip", act, said=said, onward=reverse("orders"))


@require_POST
@page(Act.DRAFT)
def order_take_up(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        take_up(number, hand=hand)

    return done_to_order(request, viewer, number, "take_up", act, said=_("Taken up again."))


@require_POST
@page(Act.APPROVE)
def order_undo(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        undo_approval(number, hand=hand)

    return done_to_order(request, viewer, number, "undo", act, said=_("A draft again."))


@require_POST
@page(Act.SEND)
def order_send(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        send(number, to=request.POST.get("to", ""), hand=hand)

    said = _("On its way by e-mail; this page says when it went.")
    if folder := mail_folder():
        said = _("It goes into %(folder)s as a file: no mail server is named, so nothing is sent.")
        said %= {"folder": folder}
    answer = done_to_order(request, viewer, number, "send", act, said=said)
    transaction.on_commit(wake)
    return answer


@require_POST
@page(Act.SEND)
def order_mark(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        facts = request.POST
        mark_as_sent(number, facts.get("how", ""), to=facts.get("whom", "").strip(), hand=hand)

    said = _("Noted as sent.")
    return done_to_order(request, viewer, number, "mark", act, said=said)


@require_POST
@page(Act.SEND)
def order_answer(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """After an answer that takes something away the page says what that means."""
    given = {value for name, value in request.POST.items() if name.startswith("says-")}
    onward = f"{reverse('order', args=[number])}?means=1" if given & SHORT else ""

    def act(hand: Hand) -> None:
        said, unread = typed_answers(request.POST, item_names(number))
        if not said:
            message = _("Choose an answer for one line at least.")
            raise Refused(Problem("no_answer", message))
        all_at_once(unread, lambda: note_answers(number, said, hand=hand))

    said = _("Noted. The kitchen expects what the supplier says.")
    return done_to_order(request, viewer, number, "answer", act, said=said, onward=onward)


@require_POST
@page(Act.SEND)
def order_confirm(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        confirm_all(number, hand=hand)

    said = _("Every open line is confirmed as ordered.")
    return done_to_order(request, viewer, number, "confirm", act, said=said)


@require_POST
@page(Act.SEND)
def order_give_up(request: HttpRequest, viewer: Viewer, number: str, line: int) -> HttpResponse:
    def act(hand: Hand) -> None:
        give_up(number, [line], hand=hand)

    said = _("Given up: it is not waited for any more.")
    return done_to_order(request, viewer, number, f"give_up-{line}", act, said=said)


@require_POST
@page(Act.SEND)
def order_cancel(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    def act(hand: Hand) -> None:
        cancel(number, why=request.POST.get("cancel-why", "").strip(), hand=hand)

    said = _("Cancelled. If the supplier has it already, ring them.")
    return done_to_order(request, viewer, number, "cancel", act, said=said)


@require_POST
@page(Act.DRAFT)
def order_elsewhere(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """What is missing, from somebody else: on a draft of theirs for the same place."""
    location = order_for(viewer, number).location

    def act(hand: Hand) -> dict[str, object]:
        free = Hand(hand.viewer, hand.by, hand.at)
        why = _("instead of %(number)s") % {"number": number}
        unread: list[Problem] = []
        offer = chosen(request.POST, "offer", unread, _("Choose who brings it instead."))
        cases = typed_whole(request.POST, "cases", unread)
        if not offer:
            raise Refused(unread)
        line = all_at_once(unread, lambda: order_anyway(offer, location, cases, why=why, hand=free))
        return {"order": line.order.number}

    said = _("It is on the draft {order} now; approve and send that one as well.")
    return done_to_order(request, viewer, number, "elsewhere", act, said=said)


def _named(problem: Problem, field: str, here: str) -> Problem:
    """``here``: what the page calls the service's ``field``."""
    return replace(problem, field=here) if problem.field == field else problem
