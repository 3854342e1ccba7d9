"""What every answer carries, and how refusals that no page caught are shown."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.problems import NotThere, Refused

# Everything comes from the house: no script or style in the page itself, no other host.
POLICY = "; ".join(
    [
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)


class AnswersMiddleware:
    """One policy header; "not there" and refusals as pages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # no address of ours holds a NUL, and PostgreSQL refuses one in any text
        if "\0" in request.path:
            response = render(request, "404.html", status=404)
        else:
            response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", "camera=(self)")
        return response

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if isinstance(error, NotThere):
            return render(request, "404.html", status=404)
        if isinstance(error, Refused):
            facts = {"problems": error.problems}
            return render(request, "inventory/refused.html", facts, status=422)
        return None
