"""Strips for lots, on one print style sheet for each size of tape."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.roles import Viewer
from inventory.web.viewing import context, page
from purchasing.selectors.labels import labels

MOST_COPIES = 20


@require_safe
@page()
def labels_page(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    asked = request.GET.get("lots", "")
    base = f"{request.scheme}://{request.get_host()}"
    copies = min(max(_whole(request.GET.get("copies", "1")), 1), MOST_COPIES)
    shown = labels(asked.split(","), viewer, base, request.GET.get("size", ""), copies)
    facts = context(page=shown, asked=asked, prints="print" in request.GET)
    return render(request, "purchasing/labels.html", facts)


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() else 1
