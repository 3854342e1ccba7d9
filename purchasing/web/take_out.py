"""Take out: what, how much, why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inventory.roles import Act, Viewer
from inventory.services.lot_acts import take_out_strip
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing import words
from purchasing.selectors.take_out_page import take_out_page
from purchasing.web.lot_forms import typed_amount


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.TAKE_OUT)
def take_out(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    if request.method != "POST":
        return _page(request, viewer)
    strip = request.POST.get("lot", "").upper()[:5]

    def act() -> Mapping[str, Any]:
        wanted = typed_amount(request, strip)
        why = request.POST.get("why", "")
        take_out_strip(viewer, wanted, why=why, by=user_of(request), at=now())
        return {"strip": strip, "qty": words.quantity(wanted.qty, wanted.unit), "why": why}

    posted = post_once(request, f"take_out:{strip}", act)
    if not posted.is_done:
        return _page(request, viewer, posted)
    said = {**posted.answer, "why": _(str(posted.answer["why"]))}
    say(request, _("%(qty)s of %(strip)s is taken out: %(why)s.") % said)
    return redirect("take_out")


def _page(request: HttpRequest, viewer: Viewer, posted: Posted | None = None) -> HttpResponse:
    sent = request.POST if posted else request.GET
    gone = posted is not None and posted.status == 409
    shown = take_out_page(
        viewer,
        now(),
        asked=request.GET.get("find", ""),
        strip="" if gone else sent.get("lot", ""),
        at=sent.get("at", ""),
    )
    facts = context(
        page=shown, problems=posted.problems if posted else (), typed=request.POST.dict()
    )
    status = posted.status if posted else 200
    return render(request, "purchasing/take_out.html", facts, status=status)
