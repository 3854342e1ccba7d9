"""The log of who did what."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from inventory.exchange.grammar import printable
from inventory.roles import Act, Viewer
from inventory.web.viewing import context, now, page
from purchasing.selectors.log_page import Asked, LogRow, log_page

FILTERS = ("person", "verb", "subject", "day")
# Kind of subject: the name of its page. A par is named by place and item.
_PAGES = {
    "order": "order",
    "lot": "lot",
    "item": "item",
    "person": "person",
    "par": "par",
}


@require_safe
@page(Act.LOG)
def log(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    asked = {name: request.GET.get(name, "") for name in (*FILTERS, "before")}
    typed = {name: printable(value) for name, value in asked.items()}
    shown = log_page(Asked(**typed), viewer, now())
    kept = {name: typed[name] for name in FILTERS if typed[name]}
    facts = context(
        page=shown,
        rows=[(row, _address(row)) for row in shown.rows],
        older=_older(kept, shown.older),
        typed=typed,
        problems=shown.problems,
        is_filtered=bool(kept),
    )
    return render(request, "purchasing/log.html", facts, status=422 if shown.problems else 200)


def _older(kept: dict[str, str], before: int | None) -> str:
    return "" if before is None else f"?{urlencode({**kept, 'before': str(before)})}"


def _address(row: LogRow) -> str:
    named = row.code.split(":") if row.kind == "par" else [row.code]
    try:
        return reverse(_PAGES[row.kind], args=named)
    except (KeyError, NoReverseMatch):
        return ""
