"""How good the forecasts were: read, and ask for it to be worked out again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.roles import Act, Viewer
from inventory.web.posting import post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import Finding
from purchasing.selectors.forecasts_page import forecasts_page
from purchasing.services.findings import ask_finding
from purchasing.services.wake import wake


@require_safe
@page(Act.PARS)
def forecasts(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return render(request, "purchasing/forecasts.html", context(page=forecasts_page(viewer, now())))


@require_POST
@page(Act.PARS)
def forecasts_ask(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        ask_finding(Finding.Kind.FORECASTS, by=user_of(request), at=now())
        return {}

    posted = post_once(request, "forecasts", act)
    if not posted.is_done:
        shown = context(page=forecasts_page(viewer, now()), problems=posted.problems)
        return render(request, "purchasing/forecasts.html", shown, status=posted.status)
    wake()
    say(request, _("It is being worked out beside this page; look again in a few minutes."))
    return redirect("forecasts")
