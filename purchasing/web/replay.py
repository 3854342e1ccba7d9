"""The same weeks under other rules: ask, watch, stop, read."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.web.posting import Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.selectors.replay_page import may_replay, replay_page
from purchasing.services.replay import Asked
from purchasing.services.replays import ask_replay, replay_problems, stop_replay
from purchasing.services.wake import wake

DAYS = ("first", "last")


@require_safe
@page(Act.PARS)
def replay(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return _shown(request, viewer)


@require_POST
@page(Act.PARS)
def replay_ask(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    if not may_replay(viewer):
        raise NotThere

    def act() -> Mapping[str, Any]:
        return {"replay": ask_replay(_asked(request), by=user_of(request), at=now()).pk}

    posted = post_once(request, "replay", act)
    if not posted.is_done:
        return _shown(request, viewer, posted)
    wake()
    say(request, _("It is being worked out beside this page; look again in a few minutes."))
    return redirect("replay")


@require_POST
@page(Act.PARS)
def replay_stop(request: HttpRequest, viewer: Viewer, number: int) -> HttpResponse:
    if not may_replay(viewer):
        raise NotThere

    def act() -> Mapping[str, Any]:
        stop_replay(number, by=user_of(request), at=now())
        return {}

    posted = post_once(request, f"replay_stop:{number}", act)
    if not posted.is_done:
        return _shown(request, viewer, posted)
    say(request, _("It stops after the day it is at; nothing is half done."))
    return redirect("replay")


def _shown(request: HttpRequest, viewer: Viewer, posted: Posted | None = None) -> HttpResponse:
    picked = request.POST.getlist("policy") if posted else None
    facts = context(
        page=replay_page(viewer, now(), picked),
        problems=posted.problems if posted else (),
        typed=request.POST if posted else {},
    )
    status = posted.status if posted else 200
    return render(request, "purchasing/replay.html", facts, status=status)


def _asked(request: HttpRequest) -> Asked:
    """Raises ``Refused`` with every day that is none, and where no rule is ticked."""
    days, problems = {}, list[Problem]()
    for name in DAYS:
        text = request.POST.get(name, "").strip()
        try:
            days[name] = date.fromisoformat(text)
        except ValueError:
            message = f"'{text}' is not a day. Write it as 2026-03-09."
            problems.append(Problem("not_a_day", message, name))
    policies = tuple(request.POST.getlist("policy"))
    if not policies:
        problems.append(Problem("no_rule", "Tick at least one rule to replay by.", "policy"))
    if problems and len(days) == len(DAYS):
        problems += replay_problems(Asked(days["first"], days["last"], policies), now())
    if problems:
        raise Refused(problems)
    return Asked(days["first"], days["last"], policies)
