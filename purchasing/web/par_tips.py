"""Tips for the pars of one place: read, adopted one by one, worked out again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import Finding
from purchasing.selectors.tips_page import Gain, tips_page
from purchasing.services.findings import ask_finding
from purchasing.services.par_tips import adopt_tip
from purchasing.services.par_undo import put_back
from purchasing.services.wake import wake


@require_safe
@page()
def par_tips(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    return _shown(request, viewer, code)


@require_POST
@page(Act.PARS)
def par_tips_ask(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    if not tips_page(code, viewer, now()).may_set:
        raise NotThere

    def act() -> Mapping[str, Any]:
        ask_finding(Finding.Kind.PAR_TIPS, by=user_of(request), at=now())
        return {}

    posted = post_once(request, "par_tips", act)
    if not posted.is_done:
        return _shown(request, viewer, code, posted)
    wake()
    say(request, _("Tips are being worked out beside this page."))
    return redirect("par_tips", code)


@require_POST
@page(Act.PARS)
def par_tip_adopt(request: HttpRequest, viewer: Viewer, code: str, item: str) -> HttpResponse:
    shown_tip = request.POST.get("worked_out", "")

    def act() -> Mapping[str, Any]:
        changes = adopt_tip(
            code,
            item,
            worked_out=int(shown_tip) if shown_tip.isdecimal() else 0,
            as_read=request.POST.get("as_read", ""),
            viewer=viewer,
            by=user_of(request),
            at=now(),
        )
        return {"changed": bool(changes)}

    posted = post_once(request, f"adopt_tip:{code}:{item}", act)
    if not posted.is_done:
        return _shown(request, viewer, code, posted)
    done = _("The pars are set as tipped; drafts are worked out again.")
    say(request, done if posted.answer["changed"] else _("Nothing was changed."))
    return _back(request, code)


def _back(request: HttpRequest, code: str) -> HttpResponse:
    """To the part of the page that was being worked through: it stands open then."""
    address, group = reverse("par_tips", args=(code,)), request.POST.get("group", "")
    return redirect(f"{address}#{group}" if group in set(Gain) else address)


@require_POST
@page(Act.PARS)
def par_put_back(request: HttpRequest, viewer: Viewer, code: str, item: str) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        as_read, who = request.POST.get("as_read", ""), user_of(request)
        changes = put_back(code, item, as_read=as_read, viewer=viewer, by=who, at=now())
        return {"changed": bool(changes)}

    posted = post_once(request, f"put_back:{code}:{item}", act)
    if not posted.is_done:
        return _shown(request, viewer, code, posted)
    say(request, _("The pars are put back as they were; drafts are worked out again."))
    return redirect("par_tips", code)


def _shown(
    request: HttpRequest, viewer: Viewer, code: str, posted: Posted | None = None
) -> HttpResponse:
    shown = tips_page(code, viewer, now())
    told = context(page=shown, problems=posted.problems if posted else ())
    status = posted.status if posted else 200
    return render(request, "purchasing/par_tips.html", told, status=status)
