"""Data that blocks a promise, with one link each to where it is mended."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_safe

from inventory.roles import Act, Viewer
from inventory.web.viewing import context, now, page
from purchasing.selectors.gaps import Fix
from purchasing.selectors.not_ready import not_ready_page


@require_safe
@page(Act.ITEMS)
def not_ready(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    shown = not_ready_page(viewer, now())
    kinds = [
        (kind, [(gap.sentence, gap.fix, _address(gap.fix)) for gap in kind.gaps])
        for kind in shown.kinds
    ]
    first = shown.first
    address = _address(first.fix) if first else ""
    facts = context(page=shown, kinds=kinds, first=first, address=address)
    return render(request, "purchasing/not_ready.html", facts)


def _address(fix: Fix | None) -> str:
    try:
        return reverse(fix.page, args=fix.about) if fix else ""
    except NoReverseMatch:
        return ""
