"""One strip: everything about it, and what may be done with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.roles import Act, Viewer
from inventory.services.lot_acts import change_strip, hold_strip, move_strip
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.selectors.lot_page import lot_page
from purchasing.web.lot_forms import typed_amount, typed_day


@require_safe
@page()
def lot(request: HttpRequest, viewer: Viewer, strip: str) -> HttpResponse:
    return _lot(request, viewer, strip)


@require_POST
@page(Act.HOLD)
def lot_hold(request: HttpRequest, viewer: Viewer, strip: str) -> HttpResponse:
    """At one place, or everywhere where ``at`` is empty."""

    def act() -> Mapping[str, Any]:
        hold_strip(
            viewer,
            strip,
            at_place=request.POST.get("at", ""),
            reason=request.POST.get("reason", ""),
            note_text=request.POST.get("note", "").strip()[:200],
            by=user_of(request),
            at=now(),
        )
        return {"strip": strip}

    return _after(request, viewer, strip, act, _("%(strip)s is on hold."))


@require_POST
@page(Act.CHANGE_LOT)
def lot_change(request: HttpRequest, viewer: Viewer, strip: str) -> HttpResponse:
    """Open, thaw, freeze or portion some of it; the part has a strip of its own."""

    def act() -> Mapping[str, Any]:
        part = change_strip(
            viewer,
            typed_amount(request, strip),
            change=request.POST.get("change", ""),
            use_by=typed_day(request, "use_by"),
            by=user_of(request),
            at=now(),
        )
        return {"strip": part.strip}

    return _after(request, viewer, strip, act, _("It is %(strip)s now; print its label."))


@require_POST
@page(Act.MOVE)
def lot_move(request: HttpRequest, viewer: Viewer, strip: str) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        transfer = move_strip(
            viewer,
            typed_amount(request, strip),
            to=request.POST.get("to", ""),
            by=user_of(request),
            at=now(),
        )
        return {"strip": strip, "number": transfer.number, "place": transfer.target.name}

    return _after(request, viewer, strip, act, _("On its way to %(place)s as %(number)s."))


def _after(
    request: HttpRequest,
    viewer: Viewer,
    strip: str,
    act: Callable[[], Mapping[str, Any]],
    sentence: str,
) -> HttpResponse:
    """The page of the lot that the answer names, or this one again with what was typed."""
    deed = request.path.rstrip("/").rpartition("/")[2]
    posted = post_once(request, f"{deed}:{strip}", act)
    if not posted.is_done:
        return _lot(request, viewer, strip, posted)
    say(request, sentence % dict(posted.answer))
    return redirect("lot", posted.answer["strip"])


def _lot(
    request: HttpRequest, viewer: Viewer, strip: str, posted: Posted | None = None
) -> HttpResponse:
    shown = lot_page(strip, viewer, now(), whole="all" in request.GET)
    facts = context(
        page=shown,
        problems=posted.problems if posted else (),
        typed=request.POST.dict(),
        form=request.path.rstrip("/").rpartition("/")[2] if posted else "",
    )
    return render(request, "purchasing/lot.html", facts, status=posted.status if posted else 200)
