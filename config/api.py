"""The API as a whole: its version, pages of lists, and refusals as problem documents.

Errors follow RFC 9457 (``application/problem+json``); ``problems`` carries the same sentences
as the pages. Within a version there are only additions.
"""

from __future__ import annotations

import base64
import binascii
import logging
from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied, SuspiciousOperation, ValidationError
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.views.defaults import server_error
from rest_framework import exceptions
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from inventory.problems import NotThere, Problem, Refused

log = logging.getLogger(__name__)

VERSION = "1"
PROBLEM_TYPE = "application/problem+json"
SIZE, LARGEST_SIZE = 100, 500
LONGEST_CURSOR = 200

_NOT_THERE = Problem("not_there", "There is nothing here, or it is not for you to see.")
OUR_MISTAKE = Problem(
    "our_mistake",
    "Something went wrong here; it is written down for whoever runs this kitchen's program. Ask "
    "again later; an act sent again under the same Idempotency-Key is done once.",
)
_NO_SUCH_PAGE = Problem("cursor", "Give `next` of the page before, as it was.", "cursor")
_NOT_SIGNED_IN = Problem("not_signed_in", "Sign in, or send a token: Authorization: Bearer TOKEN.")


def problem_answer(error: Exception, context: Mapping[str, Any]) -> Response:
    """The answer to anything that was raised. A mistake of ours is a 500: its trace goes to the
    log and never out of the house."""
    status, problems = _judged(error)
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        asked = context.get("request")
        where = f"{asked.method} {asked.path}" if asked is not None else "a request"
        log.error("%s could not be answered", where, exc_info=error)
    return Response(
        problem_document(status, problems),
        status=status,
        content_type=PROBLEM_TYPE,
        headers=_headers(error),
    )


def problem_document(status: int, problems: tuple[Problem, ...]) -> dict[str, Any]:
    """RFC 9457, section 3.1; ``about:blank`` says that the status is the type."""
    return {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": " ".join(problem.message for problem in problems),
        "problems": [
            {
                "code": problem.code,
                "message": problem.message,
                "field": problem.field,
                "data": {name: _plain(value) for name, value in problem.data.items()},
            }
            for problem in problems
        ],
    }


def _plain(value: object) -> object:
    return value if isinstance(value, str | int | bool | list | dict | None) else str(value)


def _judged(error: Exception) -> tuple[int, tuple[Problem, ...]]:
    match error:
        case Refused():
            return _status_of(error.problems), error.problems
        case NoSuchPage():
            return 404, (_NO_SUCH_PAGE,)
        case NotThere() | Http404() | exceptions.NotFound():
            return 404, (_NOT_THERE,)
        case PermissionDenied():
            return 403, (Problem("not_allowed", str(error) or "That is not for you to do."),)
        case SuspiciousOperation() | ValidationError():
            return 400, (Problem("not_understood", "The request could not be read."),)
        case exceptions.NotAuthenticated():
            return 401, (_NOT_SIGNED_IN,)
        case exceptions.APIException():
            return error.status_code, tuple(_said(error.detail))
    return 500, (OUR_MISTAKE,)


def mistake_answer(request: HttpRequest) -> HttpResponse:
    """Where something fails before or behind the operations: a problem for programs, the page
    for people."""
    if not request.path.startswith(f"/api/v{VERSION}/"):
        return server_error(request)
    body = problem_document(500, (OUR_MISTAKE,))
    return JsonResponse(body, status=500, content_type=PROBLEM_TYPE)


def _status_of(problems: tuple[Problem, ...]) -> int:
    """409: somebody else was quicker; 403: not theirs to do; 422: a rule says no."""
    codes = {problem.code for problem in problems}
    if "stale" in codes:
        return 409
    return 403 if codes == {"not_allowed"} else 422


def _said(detail: Any, field: str = "") -> Iterator[Problem]:
    """What REST framework says of an input, one problem for each sentence."""
    if isinstance(detail, Mapping):
        for name, below in detail.items():
            plain = "" if name == "non_field_errors" else str(name)
            yield from _said(below, ".".join(part for part in (field, plain) if part))
    elif isinstance(detail, list | tuple):
        for index, below in enumerate(detail):
            rows = isinstance(below, Mapping | list)
            if below:
                yield from _said(below, f"{field}.{index}" if rows else field)
    else:
        yield Problem(str(getattr(detail, "code", "") or "invalid"), str(detail), field)


def _headers(error: Exception) -> dict[str, str]:
    headers = {}
    if challenge := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = str(challenge)
    if wait := getattr(error, "wait", None):
        headers["Retry-After"] = str(int(wait))
    return headers


class NoSuchPage(Exception):
    """A cursor that no page gave."""


class ByKey(BasePagination):
    """Forward through a list by a key that does not change, so that rows added meanwhile
    neither repeat nor hide others. ``next`` is null at the end."""

    def paginate_queryset(
        self, queryset: Any, request: Request, view: APIView | None = None
    ) -> list[Any]:
        key = str(getattr(view, "key", "pk"))
        size = _size(request.query_params.get("limit", ""))
        after = _after(request.query_params.get("cursor", ""), queryset, key)
        rows = queryset.order_by(key)
        if after is not None:
            rows = rows.filter(**{f"{key}__gt": after})
        found = list(rows[: size + 1])
        more = len(found) > size
        self.next = _cursor(getattr(found[size - 1], key)) if more else None
        return found[:size]

    def get_paginated_response(self, data: Any) -> Response:
        return Response({"rows": data, "next": self.next})

    def get_paginated_response_schema(self, schema: Mapping[str, Any]) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["rows", "next"],
            "properties": {
                "rows": schema,
                "next": {
                    "type": "string",
                    "nullable": True,
                    "description": "The cursor of the next page; null: this was the last.",
                },
            },
        }

    def get_schema_operation_parameters(self, view: APIView) -> list[dict[str, Any]]:
        size = {"type": "integer", "minimum": 1, "maximum": LARGEST_SIZE, "default": SIZE}
        cursor = {"type": "string", "maxLength": LONGEST_CURSOR}
        said = "What `next` of the page before said; a made-up one is answered with 404."
        return [
            {"name": "limit", "in": "query", "required": False, "schema": size},
            {
                "name": "cursor",
                "in": "query",
                "required": False,
                "schema": cursor,
                "description": said,
            },
        ]


def _size(asked: str) -> int:
    if not asked:
        return SIZE
    size = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 9 else 0
    if not 1 <= size <= LARGEST_SIZE:
        raise exceptions.ValidationError(
            {"limit": f"Give a whole number from 1 to {LARGEST_SIZE}."}, code="limit"
        )
    return size


def _cursor(value: object) -> str:
    return base64.urlsafe_b64encode(str(value).encode()).decode().rstrip("=")


def _after(cursor: str, queryset: QuerySet[Any], key: str) -> Any:
    """The last key of the page before; None: from the start."""
    if not cursor:
        return None
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        text = base64.b64decode(padded, altchars=b"-_", validate=True).decode()
        if len(cursor) > LONGEST_CURSOR or not text.isprintable():
            raise ValueError
        field = queryset.model._meta.pk if key == "pk" else queryset.model._meta.get_field(key)
        value = field.to_python(text)
        if isinstance(value, int) and abs(value) >= 2**63:
            raise ValueError
        return value
    except (ValueError, binascii.Error, ValidationError):
        raise NoSuchPage from None
