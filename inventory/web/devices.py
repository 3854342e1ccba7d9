"""Shared tablets and phones: enrolled once, then known by a signed cookie."""

from __future__ import annotations

from hashlib import sha256

from django.core import signing
from django.http import HttpRequest, HttpResponse

from inventory.models import Device

COOKIE = "device"
SALT = "forepar.device"
A_YEAR = 365 * 24 * 3600
# Nobody's hands are on a tablet for so long: the next person names themselves.
IDLE_SECONDS = 15 * 60
_TOUCHED = "touched"


def digest_of(token: str) -> str:
    """Tokens are long and random, so one round is enough (unlike passwords)."""
    return sha256(token.encode()).hexdigest()


def remember(response: HttpResponse, token: str, *, secure: bool) -> None:
    response.set_cookie(
        COOKIE,
        signing.dumps(token, salt=SALT),
        max_age=A_YEAR,
        httponly=True,
        secure=secure,
        samesite="Lax",
    )


def device_of(request: HttpRequest) -> Device | None:
    """The enrolled device that asks; None for a person's own phone or desk."""
    try:
        token = signing.loads(request.COOKIES[COOKIE], salt=SALT, max_age=A_YEAR)
    except (KeyError, signing.BadSignature):
        return None
    return Device.objects.filter(token_digest=digest_of(str(token)), retired_on=None).first()


def stay_signed_in(request: HttpRequest) -> None:
    """At a shared device the session ends when nobody has pressed anything for a while."""
    if COOKIE in request.COOKIES:
        request.session.set_expiry(IDLE_SECONDS)
