"""The parts of every page, shown together: what the style sheet knows."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.problems import Problem
from inventory.roles import Viewer
from inventory.web.viewing import context, page


@page()
def look(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    shown = Problem("example", "Cases of oats: 'two' is not a figure; type 2.", "cases-1")
    facts = context(problems=(shown,), typed={"cases-1": "two"})
    return render(request, "inventory/look.html", facts)
