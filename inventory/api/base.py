"""What the operations of the API share: who asks, one page of a list, one thing, one act.

An operation is one small class that names its selector or service. ``request.auth`` is the
viewer (``config.api_sign_in``).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.exceptions import (
    APIException,
    AuthenticationFailed,
    NotAuthenticated,
    Throttled,
    ValidationError,
)
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer
from rest_framework.views import APIView

from inventory.api.permission import IsForThem
from inventory.problems import Refused
from inventory.roles import Act, Viewer
from inventory.services.acts import LONGEST_KEY, Asked, once

if TYPE_CHECKING:
    from rest_framework.generics import GenericAPIView

    Base = GenericAPIView[Any]
else:
    from rest_framework.generics import GenericAPIView as Base

KEY_HEADER = "Idempotency-Key"
KEY_PATTERN = rf"^[!-~]{{1,{LONGEST_KEY}}}$"
IF_MATCH = "If-Match"
VERSION_PATTERN = r'^"[0-9a-f]{1,20}"$'


class MissingHeader(APIException):
    status_code = 428


class Counted(APIView):
    """Requests that nobody has signed are counted too: REST framework turns them away before
    it counts."""

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, NotAuthenticated | AuthenticationFailed):
            try:
                self.check_throttles(self.request)
            except Throttled as throttled:
                return super().handle_exception(throttled)
        return super().handle_exception(exc)


class Operation(Counted, Base):
    act: ClassVar[Act] = Act.SEE
    # Name and group of the operation in the OpenAPI document.
    operation: ClassVar[str] = ""
    tag: ClassVar[str] = ""
    # What may be asked for behind the address.
    asked_class: ClassVar[type[Serializer[Any]] | None] = None
    permission_classes = [IsForThem]
    http_method_names = ["get", "head", "post"]

    @property
    def viewer(self) -> Viewer:
        viewer: Viewer = self.request.auth  # type: ignore[assignment]
        return viewer

    @property
    def user(self) -> User:
        assert isinstance(self.request.user, User)
        return self.request.user

    def asked_for(self, request: Request) -> Mapping[str, Any]:
        if self.asked_class is None:
            return {}
        given = self.asked_class(data=request.query_params.dict())
        given.is_valid(raise_exception=True)
        return dict(given.validated_data)

    def now(self) -> datetime:
        """The only clock of the API."""
        return timezone.now()


class Listing(Operation):
    """A page of what the viewer may see. ``key`` names the rows' order, unique and lasting."""

    key: ClassVar[str] = "pk"
    row_class: ClassVar[type[Serializer[Any]]]

    # Subclasses take ``asked`` and the names in their address.
    def seen(self, *asked: Any, **named: Any) -> QuerySet[Any]:
        raise NotImplementedError

    def get(self, request: Request, **named: str) -> Response:
        rows = self.paginate_queryset(self.seen(self.asked_for(request), **named))
        drawn = self.row_class(rows, many=True, context=self.get_serializer_context())
        return self.get_paginated_response(drawn.data)


class Seen(Operation):
    """One thing by its code; what the viewer may not see is not there."""

    row_class: ClassVar[type[Serializer[Any]]]
    has_version: ClassVar[bool] = False

    def seen(self, *asked: Any, **named: Any) -> Any:
        raise NotImplementedError

    def get(self, request: Request, **named: str) -> Response:
        asked = (self.asked_for(request),) if self.asked_class else ()
        drawn = self.row_class(self.seen(*asked, **named), context=self.get_serializer_context())
        return _with_version(Response(drawn.data), self.has_version)


class Doing(Operation):
    """One act, through its service, once per key."""

    status: ClassVar[int] = 200
    body_class: ClassVar[type[Serializer[Any]]]
    answer_class: ClassVar[type[Serializer[Any]]]
    needs_version: ClassVar[bool] = False
    has_version: ClassVar[bool] = False

    def done(self, *body: Any, **named: Any) -> Any:
        """Call the service; returns what ``answer_class`` draws. Subclasses take the body and
        the names in their address; ``self.at`` is now, ``self.version`` what was read."""
        raise NotImplementedError

    def field(self, name: str) -> str:
        """Where in the body the input is that a service calls ``name``."""
        return name

    def post(self, request: Request, **named: str) -> Response:
        key = _key(request)
        self.version = _version(request) if self.needs_version else ""
        given = self.body_class(data=request.data, context=self.get_serializer_context())
        given.is_valid(raise_exception=True)
        self.at = self.now()

        def act() -> Mapping[str, Any]:
            made = self.done(given.validated_data, **named)
            drawn: Mapping[str, Any] = self.answer_class(
                made, context=self.get_serializer_context()
            ).data
            return drawn

        sent = {"body": request.data, "named": named, "version": self.version}
        asked = Asked(key, f"api:{self.operation}", sent, self.user)
        try:
            answer = once(asked, at=self.at, act=act)
        except Refused as refused:
            raise Refused(
                replace(each, field=self.field(each.field)) for each in refused.problems
            ) from refused
        return _with_version(Response(answer, status=self.status), self.has_version)


def _key(request: Request) -> str:
    key = request.headers.get(KEY_HEADER, "")
    if not key:
        raise MissingHeader(
            f"Send {KEY_HEADER}: a key of your own, so that a repeated request is one act.",
            code="key_missing",
        )
    if not re.fullmatch(KEY_PATTERN, key):
        said = f"{KEY_HEADER} is 1 to {LONGEST_KEY} plain characters without spaces."
        raise ValidationError({KEY_HEADER: said}, code="key")
    return key


def _version(request: Request) -> str:
    said = request.headers.get(IF_MATCH, "")
    if not said:
        raise MissingHeader(
            f"Send {IF_MATCH} with the ETag of what you read, so that nobody's change is lost.",
            code="version_missing",
        )
    if not re.fullmatch(VERSION_PATTERN, said):
        message = f'{IF_MATCH} is one version in quotes, as ETag said it: "3".'
        raise ValidationError({IF_MATCH: message}, code="version")
    return said.strip('"')


def _with_version(response: Response, has_version: bool) -> Response:
    if has_version:
        response["ETag"] = f'"{response.data["version"]}"'
    return response
