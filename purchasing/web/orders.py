"""Orders due, and approving those that carry no flag."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import Problem
from inventory.roles import Act, Viewer
from inventory.web.posting import post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.selectors.orders_due import orders_due
from purchasing.services.order_hand import Hand
from purchasing.services.orders import approve_unflagged


@require_safe
@page()
def orders(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return render(request, "purchasing/orders.html", _facts(viewer))


@require_POST
@page(Act.APPROVE)
def orders_approve(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """Every draft of the form that still carries no flag."""
    hand = Hand(viewer, user_of(request), now())
    seen = sorted(_seen(request.POST.getlist("seen")))

    def act() -> Mapping[str, object]:
        done = approve_unflagged(seen, hand=hand)
        return {"approved": done.approved, "left": [(one.number, one.why) for one in done.left]}

    posted = post_once(request, "approve_unflagged", act)
    if not posted.is_done:
        facts = _facts(viewer, posted.problems)
        return render(request, "purchasing/orders.html", facts, status=posted.status)
    for sentence in _said(posted.answer):
        say(request, sentence)
    return HttpResponseRedirect(reverse("orders"))


def _facts(viewer: Viewer, problems: Iterable[Problem] = ()) -> dict[str, object]:
    return context(page=orders_due(viewer, now()), problems=tuple(problems))


def _seen(values: Iterable[str]) -> Iterable[tuple[str, int]]:
    """``number:version`` as the page was read."""
    for value in values:
        number, _colon, version = value.rpartition(":")
        if number and version.isdigit():
            yield number, int(version)


def _said(answer: Mapping[str, object]) -> Iterable[str]:
    approved, left = answer["approved"], answer["left"]
    assert isinstance(approved, list) and isinstance(left, list)
    if approved:
        sentence = ngettext("%(n)d order approved.", "%(n)d orders approved.", len(approved))
        yield sentence % {"n": len(approved)}
    for number, why in left:
        yield _("%(number)s was left: %(why)s") % {"number": number, "why": "; ".join(why)}
    if not approved and not left:
        yield _("Nothing was left to approve.")
