"""Start-up mistakes as system checks, each with a hint and an id."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


@register(Tags.database)
def transactions_open_at_once(**kwargs: Any) -> Iterable[CheckMessage]:
    """SQLite loses 6 to 13 % of concurrent transactions unless they start as writers."""
    database = settings.DATABASES["default"]
    if database["ENGINE"] != "django.db.backends.sqlite3":
        return []
    if database.get("OPTIONS", {}).get("transaction_mode") == "IMMEDIATE":
        return []
    return [
        Error(
            "SQLite transactions are deferred, so two people at once get 'database is locked'.",
            hint='Set OPTIONS["transaction_mode"] = "IMMEDIATE".',
            id="forepar.E001",
        )
    ]


@register()
def server_clock_is_utc(**kwargs: Any) -> Iterable[CheckMessage]:
    if settings.TIME_ZONE == "UTC" and settings.USE_TZ:
        return []
    return [
        Error(
            "Instants must be stored in UTC; the zone of the business is data.",
            hint='Set TIME_ZONE = "UTC" and USE_TZ = True; change time_zone in the workbook.',
            id="forepar.E002",
        )
    ]


@register()
def no_request_is_one_transaction(**kwargs: Any) -> Iterable[CheckMessage]:
    if not settings.DATABASES["default"].get("ATOMIC_REQUESTS"):
        return []
    return [
        Error(
            "ATOMIC_REQUESTS makes every page wait for the writer.",
            hint="Leave it off: services open their own short transactions.",
            id="forepar.E003",
        )
    ]


@register(Tags.security)
def secrets_come_from_the_environment(**kwargs: Any) -> Iterable[CheckMessage]:
    if settings.SECRET_KEY:
        return []
    return [
        Error(
            "There is no SECRET_KEY.",
            hint="Put a long random text in the environment variable SECRET_KEY.",
            id="forepar.E004",
        )
    ]


@register(Tags.security)
def demo_sign_in_is_for_demos(**kwargs: Any) -> Iterable[CheckMessage]:
    if settings.DEBUG or not settings.DEMO:
        return []
    return [
        Error(
            "DEMO=1 lets anybody sign in as anybody.",
            hint="Unset DEMO, or set DEBUG=1 on a laptop that nobody else can reach.",
            id="forepar.E005",
        )
    ]
