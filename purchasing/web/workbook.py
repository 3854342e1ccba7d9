"""The workbook: all data in and out. A file is looked at first and loaded with a second press."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.exchange.raw import MEBIBYTE, MOST_PACKED
from inventory.exchange.upsert import Tally
from inventory.problems import Problem, Refused
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.web.posting import say
from inventory.web.viewing import context, now, page, user_of
from purchasing.exchange.workbook import LoadReport, save_workbook, write_empty_workbook
from purchasing.services import workbooks

CONTENT = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# A file that was looked at and never loaded is thrown away after so long.
KEPT_SECONDS = 24 * 3600
MOST_SHOWN = 500
_LOOKED_AT = "workbook"
_TOKEN = re.compile(r"[A-Za-z0-9_-]{20,60}")


@dataclass(frozen=True, slots=True)
class Found:
    """What a file would do, or did."""

    name: str
    sheets: tuple[tuple[str, Tally], ...]
    changed: bool
    warnings: tuple[Problem, ...]
    more_warnings: int


@require_http_methods(["GET", "HEAD", "POST"])
@page(Act.WORKBOOK)
def workbook(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    workbooks.demand_everywhere(viewer)
    if request.method != "POST":
        return _page(request)
    _throw_away_old()
    kept = None
    try:
        kept = _kept(request.FILES.get("file"))
        report = workbooks.look_at(kept, viewer=viewer, at=now())
    except Refused as refused:
        if kept is not None:
            shutil.rmtree(kept.parent, ignore_errors=True)
        return _page(request, problems=refused.problems)
    request.session[_LOOKED_AT] = [kept.parent.name, kept.name]
    return _page(request, found=_found(kept.name, report))


@require_POST
@page(Act.WORKBOOK)
def workbook_load(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    workbooks.demand_everywhere(viewer)
    file = _looked_at(request)
    if file is None:
        gone = _("That file has been loaded or thrown away. Choose it again.")
        return _page(request, problems=(Problem("no_file", gone, "file"),))
    try:
        report = workbooks.load(file, viewer=viewer, by=user_of(request), at=now())
    except Refused as refused:
        return _page(request, problems=refused.problems)
    request.session.pop(_LOOKED_AT, None)
    shutil.rmtree(file.parent, ignore_errors=True)
    rows = sum(tally.added + tally.changed for tally in report.sheets.values())
    if report.changed:
        told = {"name": file.name, "rows": f"{rows:,}"}
        say(request, _("%(name)s is loaded: %(rows)s rows new or changed.") % told)
    else:
        say(request, _("Everything in the workbook was there already. Nothing changed."))
    return redirect("workbook")


@require_safe
@page(Act.WORKBOOK)
def workbook_out(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    workbooks.demand_everywhere(viewer)
    return _file(save_workbook, f"workbook-{business().day_of(now()).isoformat()}.xlsx")


@require_safe
@page(Act.WORKBOOK)
def workbook_empty(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    return _file(write_empty_workbook, "workbook-empty.xlsx")


def _file(write: Callable[[Path], None], name: str) -> HttpResponse:
    """Written beside, streamed, and gone from the disk as soon as it is open."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(path)
        handle = path.open("rb")
    told = FileResponse(handle, as_attachment=True, filename=name, content_type=CONTENT)
    return cast("HttpResponse", told)


def _folder() -> Path:
    return Path(settings.MEDIA_ROOT) / "workbooks"


def _kept(file: UploadedFile[Any] | None) -> Path:
    """The upload on disk, under its own name in a folder of its own. Raises ``Refused``."""
    if file is None or not file.name:
        raise Refused(Problem("no_file", _("Choose a workbook first: an .xlsx file."), "file"))
    if not file.name.lower().endswith(".xlsx"):
        told = _("%(name)s is no .xlsx file. Save it as one, with the sheets of the workbook.")
        raise Refused(Problem("not_xlsx", told % {"name": file.name}, "file"))
    if (file.size or 0) > MOST_PACKED:
        told = _("%(name)s is %(size)d MB large; at most %(most)d MB fit. Load it in parts.") % {
            "name": file.name,
            "size": round((file.size or 0) / MEBIBYTE),
            "most": MOST_PACKED // MEBIBYTE,
        }
        raise Refused(Problem("too_large", told, "file"))
    folder = _folder() / secrets.token_urlsafe(24)
    folder.mkdir(parents=True)
    path = folder / f"{re.sub(r'[^A-Za-z0-9_. -]', '_', file.name[:-5])[:80] or 'workbook'}.xlsx"
    with path.open("wb") as out:
        for chunk in file.chunks():
            out.write(chunk)
    return path


def _looked_at(request: HttpRequest) -> Path | None:
    """The file this person looked at last."""
    token, name = request.session.get(_LOOKED_AT) or ("", "")
    if not _TOKEN.fullmatch(token) or "/" in name:
        return None
    path = _folder() / token / name
    return path if path.is_file() else None


def _throw_away_old() -> None:
    folder = _folder()
    for one in folder.iterdir() if folder.is_dir() else ():
        if time.time() - one.stat().st_mtime > KEPT_SECONDS:
            shutil.rmtree(one, ignore_errors=True)


def _found(name: str, report: LoadReport) -> Found:
    return Found(
        name=name,
        sheets=tuple(report.sheets.items()),
        changed=report.changed,
        warnings=report.warnings[:MOST_SHOWN],
        more_warnings=max(0, len(report.warnings) - MOST_SHOWN),
    )


def _page(
    request: HttpRequest, *, found: Found | None = None, problems: tuple[Problem, ...] = ()
) -> HttpResponse:
    facts = context(
        found=found,
        problems=problems[:MOST_SHOWN],
        count=len(problems),
        more=max(0, len(problems) - MOST_SHOWN),
        most=MOST_PACKED // MEBIBYTE,
    )
    return render(request, "purchasing/workbook.html", facts, status=422 if problems else 200)
