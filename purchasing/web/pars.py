"""Pars: which places have them, one place's table, and the form of one item there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from inventory.roles import Viewer
from inventory.web.posting import STALE, Posted, post_once, say
from inventory.web.viewing import context, now, page, user_of
from purchasing.models import Par
from purchasing.selectors import pars_page
from purchasing.selectors.par_words import basis_words
from purchasing.selectors.pars_page import ParForm
from purchasing.selectors.tips_page import tips_of
from purchasing.services.pars import DAYS, TypedPars, set_pars

COLUMNS = ("par", "unit", "basis", "service_level")


@require_safe
@page()
def pars_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    places = pars_page.par_places(viewer)
    if len(places) == 1:
        return redirect("pars", places[0].code)
    return render(request, "purchasing/pars_list.html", context(page=places))


@require_safe
@page()
def pars(request: HttpRequest, viewer: Viewer, code: str) -> HttpResponse:
    if item := request.GET.get("item"):
        return redirect("par", code, item)  # the list of items without a par, without script
    shown = pars_page.pars_page(code, viewer, now(), tips_of(code))
    return render(request, "purchasing/pars.html", context(page=shown))


@require_http_methods(["GET", "HEAD", "POST"])
@page()
def par(request: HttpRequest, viewer: Viewer, code: str, item: str) -> HttpResponse:
    facts = pars_page.par_form(code, item, viewer)
    if request.method != "POST":
        return _form(request, facts, _stored(facts), facts.as_read)
    as_read = request.POST.get("as_read", "")

    def act() -> Mapping[str, Any]:
        typed = typed_pars(request.POST)
        who = user_of(request)
        changes = set_pars(code, item, typed, as_read=as_read, viewer=viewer, by=who, at=now())
        return {"changed": bool(changes)}

    posted = post_once(request, f"set_pars:{code}:{item}", act)
    if posted.is_done:
        told = {"item": facts.item_name, "place": facts.place_name}
        done = _("Pars of %(item)s at %(place)s are set; drafts are worked out again.") % told
        say(request, done if posted.answer["changed"] else _("Nothing was changed."))
        return redirect("pars", code)
    stale = any(problem.code == STALE for problem in posted.problems)
    return _form(request, facts, request.POST.dict(), facts.as_read if stale else as_read, posted)


def typed_pars(post: QueryDict) -> TypedPars:
    rows = [
        {name: post.get(f"{name}-{index}", "").strip() for name in COLUMNS}
        for index in range(len(DAYS))
    ]
    return TypedPars(rows, post.get("supplied_by", ""))


def _stored(facts: ParForm) -> dict[str, str]:
    typed = {
        f"{name}-{index}": row[name]
        for index, (_day, row) in enumerate(facts.rows)
        for name in COLUMNS
    }
    return {**typed, "supplied_by": facts.source}


def _form(
    request: HttpRequest,
    facts: ParForm,
    typed: Mapping[str, str],
    as_read: str,
    posted: Posted | None = None,
) -> HttpResponse:
    shown = {
        "facts": facts,
        "as_read": as_read,
        "rows": [
            {"day": day, **{name: f"{name}-{index}" for name in COLUMNS}}
            for index, (day, _row) in enumerate(facts.rows)
        ],
        "bases": [("", ""), *((basis.value, basis_words(basis.value)) for basis in Par.Basis)],
        "sources": [("", _("as usual: %(from)s") % {"from": facts.usual_source}), *facts.sources],
    }
    told = context(page=shown, typed=typed, problems=posted.problems if posted else ())
    status = posted.status if posted else 200
    return render(request, "purchasing/par_form.html", told, status=status)
