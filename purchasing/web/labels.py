"""Strips for lots, on one print style sheet for each size of tape."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.problems import Problem
from inventory.roles import Viewer
from inventory.web.viewing import context, page
from purchasing.selectors.labels import labels

MOST_COPIES = 20


@require_safe
@page()
def labels_page(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    asked, typed = request.GET.get("lots", ""), request.GET.get("copies", "1").strip()
    base = f"{request.scheme}://{request.get_host()}"
    copies, problems = _copies(typed)
    shown = labels(asked.split(","), viewer, base, request.GET.get("size", ""), copies)
    prints = "print" in request.GET and not problems
    facts = context(page=shown, asked=asked, copies=typed, prints=prints, problems=problems)
    return render(request, "purchasing/labels.html", facts, status=422 if problems else 200)


def _copies(typed: str) -> tuple[int, list[Problem]]:
    """One of each where the figure is none that can be printed, and why."""
    is_whole = typed.isascii() and typed.isdigit()
    if is_whole and len(typed) < 6 and 1 <= int(typed) <= MOST_COPIES:
        return int(typed), []
    message = _(
        "Copies: '%(typed)s' is not a number of copies; type a whole figure, 1 to %(most)d."
    )
    said = message % {"typed": typed, "most": MOST_COPIES}
    return 1, [Problem("not_a_count", said, "copies")]
