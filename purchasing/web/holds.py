"""Holds: what is blocked; release, or hold a lot or a whole store."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.services.lot_acts import hold_place, hold_store, hold_strip, release_strip
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.selectors.holds_page import holds_page


@require_safe
@page()
def holds(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return _holds(request, viewer)


@require_POST
@page(Act.RELEASE)
def hold_release(request: HttpRequest, viewer: Viewer, number: int) -> HttpResponse:
    def act() -> Mapping[str, Any]:
        why = request.POST.get(f"why-{number}", "")[:200]
        hold = release_strip(viewer, number, why=why, by=user_of(request), at=now())
        return {"strip": hold.lot.strip}

    posted = post_once(request, f"release:{number}", act)
    return _after(request, viewer, posted, lambda: _("%(strip)s may be used again."))


@require_POST
@page(Act.HOLD)
def hold_one(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """A lot that is named by its strip."""

    def act() -> Mapping[str, Any]:
        strip = request.POST.get("strip", "").strip().upper()
        place, by = request.POST.get("at", ""), user_of(request)
        try:
            hold_strip(viewer, strip, at_place=place, **_typed(request), by=by, at=now())
        except NotThere:
            raise Refused(_no_lot(strip)) from None
        return {"strip": strip}

    posted = post_once(request, "hold", act)
    return _after(request, viewer, posted, lambda: _("%(strip)s is on hold."))


@require_POST
@page(Act.HOLD)
def hold_area(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """Everything in a store, or all that is at a place: ``area`` is the number of the one or
    the code of the other."""

    def act() -> Mapping[str, Any]:
        kind, _bar, which = request.POST.get("area", "").partition(":")
        typed, by = _typed(request), user_of(request)
        if kind == "place":
            found = hold_place(viewer, which, **typed, by=by, at=now())
        else:
            area = int(which) if which.isdecimal() and len(which) < 15 else 0
            found = hold_store(viewer, area, **typed, by=by, at=now())
        return {"count": len(found)}

    posted = post_once(request, "hold_area", act)
    count = posted.answer.get("count", 0)
    return _after(
        request,
        viewer,
        posted,
        lambda: ngettext("%(count)d lot is on hold.", "%(count)d lots are on hold.", count),
    )


def _no_lot(strip: str) -> Problem:
    message = f"No lot has the strip '{strip}' where you work. It is the five letters on the label."
    return Problem("no_lot", message, "strip")


def _typed(request: HttpRequest) -> dict[str, str]:
    note = request.POST.get("note", "").strip()[:200]
    return {"reason": request.POST.get("reason", ""), "note_text": note}


def _after(
    request: HttpRequest, viewer: Viewer, posted: Posted, sentence: Callable[[], str]
) -> HttpResponse:
    if not posted.is_done:
        return _holds(request, viewer, posted)
    say(request, sentence() % dict(posted.answer))
    return redirect("holds")


def _holds(request: HttpRequest, viewer: Viewer, posted: Posted | None = None) -> HttpResponse:
    text = request.GET.get("from", "")
    start = int(text) if text.isdecimal() and len(text) < 15 else None
    facts = context(
        page=holds_page(viewer, now(), start=start),
        problems=posted.problems if posted else (),
        typed=request.POST.dict(),
    )
    return render(request, "purchasing/holds.html", facts, status=posted.status if posted else 200)
