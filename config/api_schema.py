"""The OpenAPI document, from the views: ``manage.py spectacular`` writes ``openapi.yaml``.

Success is read from each view; refusals, keys and versions are the same everywhere, so they
are declared here once.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import uritemplate
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from rest_framework import serializers

from config.api import PROBLEM_TYPE
from inventory.api.base import (
    IF_MATCH,
    KEY_HEADER,
    KEY_PATTERN,
    VERSION_PATTERN,
    Doing,
    Listing,
    Seen,
)
from inventory.api.codes import PATTERNS

SAFE = {"GET", "HEAD"}


class ProblemRow(serializers.Serializer[Any]):
    """One thing that is wrong; ``message`` says what would be right."""

    code = serializers.CharField(help_text="Stable, for programs.")
    message = serializers.CharField(help_text="A sentence, for people.")
    field = serializers.CharField(help_text="The input at fault; empty: the whole.")
    data = serializers.DictField(help_text="The figures of the message.")  # type: ignore[assignment]


class ProblemDocument(serializers.Serializer[Any]):
    """RFC 9457, with every problem at once."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    problems = ProblemRow(many=True)


_ALWAYS = {
    400: "The request could not be read: an input is missing or of the wrong kind.",
    401: "Not signed in, or the token is not known.",
    404: "Nothing there, or nothing for this person to see: the answer is the same.",
    405: "Not a method of this address.",
    406: "Answers are JSON only.",
    429: "Too many requests; `Retry-After` says how many seconds to wait.",
    500: "A mistake of ours; nothing of it is told, and the act may be sent again.",
}
_OF_WRITING = {
    403: "Seen, but not for this person to do; or the session's CSRF token is missing.",
    409: "Somebody else was quicker: the sentence says who changed what.",
    415: "Requests are JSON only.",
    422: "Refused by a rule, or the key was used for something else.",
    428: "`Idempotency-Key` or `If-Match` is missing.",
}


class OperationSchema(AutoSchema):
    """What every operation of ours has in common."""

    view: Any

    def _is_list_view(self, serializer: Any = None) -> bool:
        return isinstance(self.view, Listing)

    def get_operation_id(self) -> str:
        return str(getattr(self.view, "operation", "")) or str(super().get_operation_id())

    def get_tags(self) -> list[str]:
        return [str(getattr(self.view, "tag", "")) or self._tokenize_path()[0]]

    def get_request_serializer(self) -> Any:
        return self.view.body_class if isinstance(self.view, Doing) else None

    def get_response_serializers(self) -> Any:
        view = self.view
        if isinstance(view, Doing):
            own: Mapping[Any, Any] = {view.status: view.answer_class}
        elif isinstance(view, Listing | Seen):
            own = {200: view.row_class}
        else:
            return super().get_response_serializers()
        said = _ALWAYS if self.method in SAFE else {**_ALWAYS, **_OF_WRITING}
        problems = {
            (status, PROBLEM_TYPE): OpenApiResponse(ProblemDocument, words)
            for status, words in sorted(said.items())
        }
        return {**own, **problems}

    def get_override_parameters(self) -> list[Any]:
        names = uritemplate.variables(self.path)
        parameters: list[Any] = [_in_path(name) for name in names if name in PATTERNS]
        if isinstance(self.view, Listing | Seen) and self.view.asked_class:
            parameters.append(self.view.asked_class)
        if isinstance(self.view, Doing):
            parameters.append(_KEY)
            if self.view.needs_version:
                parameters.append(_VERSION)
        if getattr(self.view, "has_version", False):
            parameters.append(_ETAG)
        return parameters

    def _map_serializer_field(
        self, field: Any, direction: Any, bypass_extensions: bool = False
    ) -> Any:
        mapped: Any = super()._map_serializer_field  # type: ignore[no-untyped-call, unused-ignore]
        schema = mapped(field, direction, bypass_extensions)
        if schema and not getattr(field, "allow_empty", True):
            schema["minItems"] = 1
        return schema

    def get_paginated_name(self, serializer_name: str) -> str:
        return serializer_name.removesuffix("Row") + "Page"

    def get_examples(self) -> list[Any]:
        return []


def _in_path(name: str) -> OpenApiParameter:
    return OpenApiParameter(name, str, OpenApiParameter.PATH, pattern=f"^{PATTERNS[name]}$")


_KEY = OpenApiParameter(
    KEY_HEADER,
    str,
    OpenApiParameter.HEADER,
    required=True,
    pattern=KEY_PATTERN,
    description="The sender's own, such as a UUID: the same request again gets the first answer.",
)
_VERSION = OpenApiParameter(
    IF_MATCH,
    str,
    OpenApiParameter.HEADER,
    required=True,
    pattern=VERSION_PATTERN,
    description="The `ETag` of what was read.",
)
_ETAG = OpenApiParameter(
    "ETag", str, OpenApiParameter.HEADER, response=[200, 201], description="The version."
)


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "config.api_sign_in.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "config.api_sign_in.BySession"
    name = "session"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
