"""Start-up mistakes are said at start-up, each with what to do."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.checks import CheckMessage, run_checks
from django.core.management import call_command
from django.db import connection

from config import checks

SQLITE = {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}
IMMEDIATE = {**SQLITE, "OPTIONS": {"transaction_mode": "IMMEDIATE"}}
POSTGRES = {"ENGINE": "django.db.backends.postgresql", "NAME": "kitchen"}

SOUND = {
    "DATABASES": {"default": IMMEDIATE},
    "TIME_ZONE": "UTC",
    "USE_TZ": True,
    "SECRET_KEY": "x" * 50,
    "DEBUG": False,
    "DEMO": False,
}

Check = Callable[..., Iterable[CheckMessage]]


@pytest.mark.parametrize(
    ("check", "changed", "expected"),
    [
        (checks.transactions_open_at_once, {"DATABASES": {"default": SQLITE}}, "forepar.E001"),
        (checks.transactions_open_at_once, {"DATABASES": {"default": IMMEDIATE}}, None),
        (checks.transactions_open_at_once, {"DATABASES": {"default": POSTGRES}}, None),
        (checks.server_clock_is_utc, {"TIME_ZONE": "Europe/Berlin"}, "forepar.E002"),
        (checks.server_clock_is_utc, {"USE_TZ": False}, "forepar.E002"),
        (checks.server_clock_is_utc, {}, None),
        (
            checks.no_request_is_one_transaction,
            {"DATABASES": {"default": {**IMMEDIATE, "ATOMIC_REQUESTS": True}}},
            "forepar.E003",
        ),
        (checks.no_request_is_one_transaction, {}, None),
        (checks.secrets_come_from_the_environment, {"SECRET_KEY": ""}, "forepar.E004"),
        (checks.secrets_come_from_the_environment, {"SECRET_KEY": "x" * 50}, None),
        (checks.demo_sign_in_is_for_demos, {"DEBUG": False, "DEMO": True}, "forepar.E005"),
        (checks.demo_sign_in_is_for_demos, {"DEBUG": True, "DEMO": True}, None),
        (checks.demo_sign_in_is_for_demos, {"DEBUG": False, "DEMO": False}, None),
    ],
)
def test_a_mistake_is_named_with_a_hint(
    check: Check, changed: dict[str, Any], expected: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checks, "settings", SimpleNamespace(**{**SOUND, **changed}))
    found = list(check())
    assert [message.id for message in found] == ([expected] if expected else [])
    assert all(message.hint for message in found)


def test_the_project_itself_has_no_mistake() -> None:
    assert [message for message in run_checks() if message.level >= 30] == []


def test_a_sqlite_file_is_opened_as_writers_need_it(db: None) -> None:
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous")
            assert cursor.fetchone() == (2,)  # FULL
        assert connection.settings_dict["OPTIONS"]["transaction_mode"] == "IMMEDIATE"
    assert not connection.settings_dict["ATOMIC_REQUESTS"]


def test_models_and_migrations_agree(db: None) -> None:
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)
