"""A lot's way, to be read out on the phone, and the records of it as a sheet."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import cast

from django.http import (
    FileResponse,
    HttpRequest,
    HttpResponse,
    StreamingHttpResponse,
)
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.exchange.files import write_book
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.web.viewing import context, now, page
from purchasing.exchange.trace_sheet import csv_lines, trace_table
from purchasing.selectors.trace import lots_along
from purchasing.selectors.trace_page import trace_page
from purchasing.selectors.trace_records import (
    Record,
    lots_by_code,
    records_between,
    records_of,
)


@require_safe
@page()
def trace(request: HttpRequest, viewer: Viewer, strip: str) -> HttpResponse:
    shown = trace_page(strip, viewer, now())
    return render(request, "purchasing/trace.html", context(page=shown))


@require_safe
@page()
def trace_records(request: HttpRequest, viewer: Viewer, strip: str, kind: str) -> HttpResponse:
    """Of this lot, of what went into it and of what was made of it."""
    lot = seen.only(seen.lots(viewer), strip=strip.upper())
    return _sheet(records_of(lots_along(lot)), f"trace-{lot.strip}", kind)


@require_safe
@page(Act.LOG)
def records(request: HttpRequest, viewer: Viewer, kind: str) -> HttpResponse:
    """Of all that carries a code (``code``), or of listed foods ``from`` a day ``to`` a day; of
    every place, so for people who read the log of every place."""
    if not viewer.may_everywhere(Act.LOG):
        raise NotThere
    if code := request.GET.get("code", "").strip():
        along = {pk for lot in lots_by_code(code) for pk in lots_along(lot)}
        return _sheet(records_of(along), "trace-records", kind)
    first, last = (_day(request, name) for name in ("from", "to"))
    return _sheet(records_between(first, last), f"trace-{first}-{last}", kind)


def _day(request: HttpRequest, name: str) -> date:
    try:
        return date.fromisoformat(request.GET.get(name, ""))
    except ValueError:
        message = "Name a lot code, or the first and the last day as YYYY-MM-DD."
        raise Refused(Problem("no_date", message, name)) from None


def _sheet(found: Iterator[Record], name: str, kind: str) -> HttpResponse:
    """Line by line as .csv; an .xlsx is written to disk first and gone when it is sent."""
    if kind == "csv":
        response = StreamingHttpResponse(csv_lines(found), content_type="text/csv; charset=utf-8")
        response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
        return cast(HttpResponse, response)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.xlsx"
        write_book(path, [trace_table(found)])
        # open while the name is removed: the file lives until it has been sent
        file = FileResponse(path.open("rb"), as_attachment=True, filename=path.name)
        return cast(HttpResponse, file)
