"""What the dock's pages need to work without signal: the worker, and a fresh token."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.views.decorators.http import require_safe

from inventory.roles import Viewer
from inventory.web.viewing import page, user_of


@require_safe
@page()
def worker(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """The service worker, from the root, so that it may look after the deliveries."""
    answer = HttpResponse(_worker(), content_type="text/javascript; charset=utf-8")
    answer.headers["Cache-Control"] = "no-cache"
    return answer


@cache
def _worker() -> str:
    found = finders.find("purchasing/dock-worker.js")
    return Path(str(found)).read_text(encoding="utf-8")


@require_safe
@page()
def token(request: HttpRequest, viewer: Viewer) -> JsonResponse:
    """For entries that waited: a form's token may have gone stale, the person changed."""
    answer = JsonResponse(
        {"token": get_token(request), "user": user_of(request).pk, "name": viewer.name}
    )
    answer.headers["Cache-Control"] = "no-store"
    return answer
