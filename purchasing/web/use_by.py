"""The use-by board: look, and press what helps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.engine.help import Way
from inventory.engine.take_outs import Why
from inventory.problems import Problem, Refused
from inventory.roles import Viewer
from inventory.services.lot_acts import (
    Amount,
    change_strip,
    hold_strip,
    move_strip,
    take_in,
    take_out_strip,
)
from inventory.services.lots import Change
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing import words
from purchasing.selectors.help_words import Sent, sent
from purchasing.selectors.use_by_page import unit_of, use_by_board
from purchasing.services.board_helps import Pressed, demand_as_seen
from purchasing.services.use_by_looks import ask_for_look

_WHY = {Way.STAFF_MEAL: Why.STAFF_MEAL, Way.DONATE: Why.DONATION}


@require_safe
@page()
def use_by(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return _board(request, viewer)


@require_POST
@page()
def use_by_help(request: HttpRequest, viewer: Viewer, strip: str) -> HttpResponse:
    """One press of one help."""
    posted = post_once(request, f"help:{strip}", lambda: _help(request, viewer, strip))
    if not posted.is_done:
        return _board(request, viewer, posted)
    say(request, str(posted.answer["said"]))
    return redirect("use_by")


@require_POST
@page()
def use_by_look(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """Ask for fresh figures; they are worked out beside the page."""
    ask_for_look(at=now())
    say(request, _("It is being worked out; look again in a minute."))
    return redirect("use_by")


@require_POST
@page()
def load_take_in(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    """Goods from another site are here, all of them."""

    def act() -> Mapping[str, Any]:
        transfer = take_in(viewer, number, by=user_of(request), at=now())
        return {"place": transfer.target.name}

    posted = post_once(request, f"take_in:{number[:40]}", act)
    if not posted.is_done:
        return _board(request, viewer, posted)
    said = {"number": number, "place": posted.answer["place"]}
    say(request, _("%(number)s is at %(place)s.") % said)
    return redirect("use_by")


def _board(request: HttpRequest, viewer: Viewer, posted: Posted | None = None) -> HttpResponse:
    asked = request.GET.get("from", "")
    shown = use_by_board(
        viewer,
        now(),
        start=int(asked) if asked.isdecimal() and len(asked) < 10 else 0,
        shows_calm="all" in request.GET,
    )
    facts = context(
        page=shown,
        problems=posted.problems if posted else (),
        typed=request.POST.dict(),
        held=_asked_to_hold(request),
    )
    return render(request, "purchasing/use_by.html", facts, status=posted.status if posted else 200)


def _asked_to_hold(request: HttpRequest) -> str:
    """The strip and place whose hold was refused, as the rows of the board are named."""
    if request.POST.get("help") != "hold" or request.resolver_match is None:
        return ""
    return f"{request.resolver_match.kwargs.get('strip', '')}-{request.POST.get('at', '')}"


def _help(request: HttpRequest, viewer: Viewer, strip: str) -> dict[str, str]:
    at_place = request.POST.get("at", "")
    pressed = request.POST.get("help", "")
    if pressed == "hold":
        return _hold(request, viewer, strip, at_place)
    wanted = sent(pressed, unit_of(viewer, strip))
    if wanted is None:
        raise Refused(Problem("no_help", "Press one of the helps beside the lot."))
    was = Pressed(strip, at_place, pressed, request.POST.get("there", ""))
    demand_as_seen(viewer, was, at=now())
    said = _done(request, viewer, strip, at_place, wanted)
    ask_for_look(at=now())  # the figures beside the lot were of what is gone now
    return {"said": said}


def _hold(request: HttpRequest, viewer: Viewer, strip: str, at_place: str) -> dict[str, str]:
    hold_strip(
        viewer,
        strip,
        at_place=at_place,
        reason=request.POST.get("reason", ""),
        note_text=request.POST.get("note", "").strip()[:200],
        by=user_of(request),
        at=now(),
    )
    return {"said": _("%(strip)s is on hold here.") % {"strip": strip}}


def _done(request: HttpRequest, viewer: Viewer, strip: str, at_place: str, wanted: Sent) -> str:
    some = Amount(strip, at_place, wanted.qty, wanted.unit)
    hand = {"by": user_of(request), "at": now()}
    said = {"qty": words.quantity(wanted.qty, wanted.unit), "strip": strip}
    match wanted.way:
        case Way.MOVE:
            transfer = move_strip(viewer, some, to=wanted.to, **hand)  # type: ignore[arg-type]
            said |= {"place": transfer.target.name, "number": transfer.number}
            return _("%(qty)s of %(strip)s is on its way to %(place)s as %(number)s.") % said
        case Way.FREEZE:
            part = change_strip(viewer, some, change=Change.FREEZE, **hand)  # type: ignore[arg-type]
            said |= {"part": part.strip}
            return _("%(qty)s of %(strip)s is frozen as %(part)s; print its label.") % said
        case _:
            why = _WHY.get(wanted.way) or wanted.to
            take_out_strip(viewer, some, why=why, **hand)  # type: ignore[arg-type]
            said |= {"why": _(str(why))}
            return _("%(qty)s of %(strip)s is taken out: %(why)s.") % said
