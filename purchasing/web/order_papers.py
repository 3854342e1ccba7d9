"""An order as files and as words for the phone."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.roles import Act, Viewer
from inventory.web.viewing import context, now, page
from purchasing.papers.csv_file import order_csv
from purchasing.papers.pdf import order_pdf
from purchasing.papers.phone import in_their_order
from purchasing.papers.sheet import OrderSheet
from purchasing.papers.ubl import order_xml
from purchasing.selectors.order_page import order_for
from purchasing.selectors.order_paper import order_paper

PAPERS: dict[str, tuple[str, Callable[[OrderSheet], bytes]]] = {
    "pdf": ("application/pdf", order_pdf),
    "xml": ("application/xml", order_xml),
    "csv": ("text/csv; charset=utf-8", order_csv),
}


@require_safe
@page(Act.SEND)
def order_file(request: HttpRequest, viewer: Viewer, number: str, kind: str) -> HttpResponse:
    """Of a draft as well: a buyer may want to see the sheet first."""
    mime, write = PAPERS[kind]
    sheet = order_paper(order_for(viewer, number), at=now())
    answer = HttpResponse(write(sheet), content_type=mime)
    how = "inline" if kind == "pdf" else "attachment"
    answer["Content-Disposition"] = f'{how}; filename="{number}.{kind}"'
    return answer


@require_safe
@page(Act.SEND)
def order_phone(request: HttpRequest, viewer: Viewer, number: str) -> HttpResponse:
    order = order_for(viewer, number)
    sheet = order_paper(order, at=now())
    facts = context(page=sheet, order=order, lines=in_their_order(sheet.lines))
    return render(request, "purchasing/order_phone.html", facts)
