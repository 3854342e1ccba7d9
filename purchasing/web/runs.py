"""What a run left out, and ordering it anyway."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.models import Location
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.web.posting import all_at_once, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.selectors.run_page import run_page
from purchasing.services.extra_lines import order_anyway
from purchasing.services.order_hand import Hand
from purchasing.web.order_forms import typed_whole


@require_safe
@page()
def run(request: HttpRequest, viewer: Viewer, run_id: int) -> HttpResponse:
    return _shown(request, viewer, run_id)


@require_POST
@page(Act.DRAFT)
def run_order(request: HttpRequest, viewer: Viewer, run_id: int) -> HttpResponse:
    """Onto the open draft of its supplier, which is opened if there is none."""
    offer, place = request.POST.get("offer", ""), request.POST.get("place", "")
    location = Location.objects.filter(pk=int(place)).first() if place.isdigit() else None
    if location is None or not offer.isdigit():
        raise NotThere
    hand = Hand(viewer, user_of(request), now())
    field = f"cases-{request.POST.get('row', '')}"

    def act() -> Mapping[str, object]:
        try:
            unread: list[Problem] = []
            cases = typed_whole(request.POST, field, unread)
            why = _("ordered anyway")
            line = all_at_once(
                unread, lambda: order_anyway(int(offer), location, cases, why=why, hand=hand)
            )
        except Refused as refused:
            raise Refused(_at(refused.problems, field)) from None
        return {"order": line.order.number, "item": line.item.name}

    posted = post_once(request, f"order_anyway:{run_id}", act)
    if not posted.is_done:
        return _shown(request, viewer, run_id, posted.problems, posted.status)
    say(request, _("%(item)s is on the draft %(order)s now.") % posted.answer)
    return HttpResponseRedirect(reverse("order", args=[posted.answer["order"]]))


def _shown(
    request: HttpRequest,
    viewer: Viewer,
    run_id: int,
    problems: Sequence[Problem] = (),
    status: int = 200,
) -> HttpResponse:
    facts = context(page=run_page(viewer, run_id), problems=problems, typed=request.POST.dict())
    return render(request, "purchasing/run.html", facts, status=status)


def _at(problems: Sequence[Problem], field: str) -> list[Problem]:
    return [Problem(one.code, one.message, field, one.data) for one in problems]
