"""Who asks the API: a token, or the session of the pages; and how often anybody may.

Both give the request its viewer as ``request.auth``, so that a shared tablet stays narrowed
to its place here too.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.throttling import AnonRateThrottle, UserRateThrottle

from inventory.roles import Viewer
from inventory.selectors.viewers import viewer_of
from inventory.services.tokens import user_of_token
from inventory.web.viewing import viewer_for

SCHEME = "Bearer"


class ByToken(BaseAuthentication):
    """``Authorization: Bearer TOKEN`` (RFC 6750)."""

    def authenticate(self, request: Request) -> tuple[User, Viewer] | None:
        scheme, _, token = request.headers.get("Authorization", "").partition(" ")
        if not scheme:
            return None
        user = user_of_token(token.strip(), at=timezone.now()) if scheme == SCHEME else None
        if user is None:
            raise AuthenticationFailed(
                "This token is not known, or it was retired. Make another one on the people page.",
                code="token",
            )
        return user, viewer_of(user)

    def authenticate_header(self, request: Request) -> str:
        return SCHEME


class BySession(SessionAuthentication):
    """The session of the pages; writing needs its CSRF token."""

    def authenticate(self, request: Request) -> tuple[User, Any] | None:
        found = super().authenticate(request)
        if found is None:
            return None
        return found[0], viewer_for(request._request)


class PerPerson(UserRateThrottle):
    """So many requests a minute of one person; empty: no limit."""

    def get_rate(self) -> str | None:
        return settings.API_RATE or None


class PerAddress(AnonRateThrottle):
    """So many requests a minute of one address that has not signed in; empty: no limit."""

    def get_rate(self) -> str | None:
        return settings.API_RATE_ANONYMOUS or None
