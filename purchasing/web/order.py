"""One order: the sheet it will be, tried out, changed, approved, sent, answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import Problem
from inventory.roles import Act, Viewer
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import PurchaseOrder
from purchasing.selectors.consequences import try_cases, what_is_missed
from purchasing.selectors.elsewhere import Elsewhere, calendars, who_else
from purchasing.selectors.order_page import OrderPage, item_names, order_for, order_page
from purchasing.services.order_hand import Hand
from purchasing.web.order_forms import typed_cases

Answer = Mapping[str, object]


@require_safe
@page()
def order(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """``?line=`` shows the picture of a line; ``?means=1`` what a short answer means."""
    shown = {int(value) for value in request.GET.getlist("line") if value.isdigit()}
    return shown_order(
        request, viewer, number, look=Look(lines=shown, means="means" in request.GET)
    )


@require_POST
@page(Act.DRAFT)
def order_try(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """The same page with what follows from the cases typed; nothing is stored."""
    known = order_for(viewer, number)
    wanted, problems = typed_cases(request.POST, item_names(number))
    cases = {} if problems else {one.line_id: one.cases for one in wanted}
    changed = {
        line.pk for line in known.lines.all() if cases.get(line.pk, line.cases) != line.cases
    }
    first = {line.pk for line in list(known.lines.all())[:1]}
    look = Look(lines=changed or first, cases=cases)
    return shown_order(request, viewer, number, look=look, problems=problems, tried=True)


@dataclass(frozen=True, slots=True)
class Look:
    """What is worked out for the page: lines by id with cases tried out, what is missed."""

    lines: set[int]
    cases: Mapping[int, int] | None = None
    means: bool = False


def shown_order(
    request: HttpRequest,
    viewer: Viewer,
    number: str,
    *,
    look: Look | None = None,
    problems: Sequence[Problem] = (),
    tried: bool = False,
    status: int = 200,
) -> HttpResponse:
    """The page, with whatever was typed still in it."""
    look = look or Look(set())
    known, moment = order_for(viewer, number), now()
    shown = order_page(known, viewer, moment)
    facts = context(
        page=shown,
        problems=problems,
        typed=request.POST.dict(),
        tried=try_cases(
            known, dict(look.cases or {}), look.lines, sees=shown.sees_cost, as_of=moment
        )
        if look.lines and not problems
        else None,
        was_tried=tried,
        missed=what_is_missed(known, as_of=moment) if look.means else (),
        after_cutoff=_after_cutoff(known, shown),
    )
    if problems and status == 200:
        status = 422
    return render(request, "purchasing/order.html", facts, status=status)


@dataclass(frozen=True, slots=True)
class AfterCutoff:
    """``next_day``: when the supplier comes after all, ordered by ``by``; blank: not within 60
    days."""

    next_day: str
    by: str
    others: tuple[Elsewhere, ...]


def _after_cutoff(known: PurchaseOrder, shown: OrderPage) -> AfterCutoff | None:
    """What can still be done about a draft whose cutoff is past."""
    if not shown.is_late or shown.is_skipped:
        return None
    moment, days = now(), calendars()
    slot = days.next_slot(known.supplier.code, known.location.code, moment)
    missing = {
        line.item_id: line.cases * line.pack_base for line in known.lines.all() if line.cases
    }
    return AfterCutoff(
        next_day=f"{slot.delivery:%a} {slot.delivery.day} {slot.delivery:%b}" if slot else "",
        by=f"{days.clock.local(slot.order_by):%a %H:%M}" if slot else "",
        others=tuple(one for one in who_else(known, missing, at=moment) if one.in_time),
    )


def done_to_order(
    request: HttpRequest,
    viewer: Viewer,
    number: str,
    what: str,
    act: Callable[[Hand], Answer | None],
    *,
    said: str,
    onward: str = "",
) -> HttpResponse:
    """Do ``act`` under the form's key and version; then back to the order with a sentence, or
    to the page as it was typed with everything that is wrong."""
    order_for(viewer, number)
    hand = Hand(viewer, user_of(request), now(), _version(request))
    posted: Posted = post_once(request, f"{what}:{number}", lambda: act(hand) or {})
    if not posted.is_done:
        return shown_order(request, viewer, number, problems=posted.problems, status=posted.status)
    say(request, said.format(**posted.answer) if posted.answer else said)
    return HttpResponseRedirect(onward or reverse("order", args=[number]))


def _version(request: HttpRequest) -> int | None:
    version = request.POST.get("version", "")
    return int(version) if version.isdigit() else None
