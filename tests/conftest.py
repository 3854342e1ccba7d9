"""Fixtures that every test may use.

``database`` is an empty database of its own, once on SQLite and once on PostgreSQL, for tests
that start processes. ``TEST_POSTGRES_URL`` and ``TEST_REDIS_URL`` name running servers; without
them throw-away servers are started. Where none can be had the tests are skipped, and fail
where the environment says ``CI``.
"""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext, override_settings
from hypothesis import HealthCheck, settings

from inventory import append_only
from tests import servers
from tests.concurrency.nursery import Nursery
from tests.databases import Database, administer, named, postgres_copy

# Machines that run tests are shared: time says nothing about right or wrong.
settings.register_profile(
    "kitchen", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("kitchen")
# The browser tests' driver runs an event loop in the thread of the test.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


@pytest.fixture(scope="session", autouse=True)
def _nobody_is_throttled() -> Iterator[None]:
    """Tests ask more often than people; those of the throttles set their own."""
    with override_settings(API_RATE="", API_RATE_ANONYMOUS=""):
        yield


@pytest.fixture(scope="session", autouse=True)
def _quick_passwords() -> Iterator[None]:
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]):
        yield


@pytest.fixture(autouse=True)
def _tables_can_be_emptied(request: pytest.FixtureRequest) -> Iterator[None]:
    """Tests that commit are cleared away by emptying all tables, which append-only tables
    refuse. The ``post_migrate`` that follows makes their triggers again."""
    marker = request.node.get_closest_marker("django_db")
    commits = bool(marker and marker.kwargs.get("transaction"))
    if not commits and not {"transactional_db", "live_server"} & set(request.fixturenames):
        yield
        return
    request.getfixturevalue("transactional_db")
    yield
    for one in connections.all():
        append_only.remove(one)


@pytest.fixture
def count_queries() -> Callable[..., int]:
    """``count_queries(function, *args)`` calls it and says how many queries it made."""

    def count(function: Callable[..., object], *args: object, **kwargs: object) -> int:
        with CaptureQueriesContext(connection) as queries:
            function(*args, **kwargs)
        return len(queries)

    return count


@pytest.fixture(scope="session")
def _running() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


@pytest.fixture(scope="session")
def _postgres_server(_running: ExitStack) -> str | servers.CannotStart:
    return _address("TEST_POSTGRES_URL", servers.postgres, _running)


@pytest.fixture(scope="session")
def _redis_server(_running: ExitStack) -> str | servers.CannotStart:
    return _address("TEST_REDIS_URL", servers.redis, _running)


def _address(
    variable: str, start: Callable[[], AbstractContextManager[str]], running: ExitStack
) -> str | servers.CannotStart:
    if url := os.environ.get(variable):
        return url
    try:
        return running.enter_context(start())
    except (servers.CannotStart, OSError) as error:
        return servers.CannotStart(str(error))


@pytest.fixture
def postgres_server(_postgres_server: str | servers.CannotStart) -> str:
    """Address of a PostgreSQL server on which databases may be made."""
    return servers.or_skip("PostgreSQL", _postgres_server)


@pytest.fixture
def redis_server(_redis_server: str | servers.CannotStart) -> str:
    """Address of a Redis server."""
    return servers.or_skip("Redis", _redis_server)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file to copy from, so that the tables are made once."""
    folder = tmp_path_factory.mktemp("sqlite")
    file = folder / "kitchen.sqlite3"
    Database(f"sqlite:///{file}", folder).manage("migrate", "--verbosity", "0")
    return file


@pytest.fixture(scope="session")
def _postgres_template(
    _postgres_server: str | servers.CannotStart, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    if not isinstance(_postgres_server, str):
        yield ""
        return
    name = f"template_{uuid.uuid4().hex}"
    administer(_postgres_server, f"CREATE DATABASE {name}")
    folder = tmp_path_factory.mktemp("postgres")
    Database(named(_postgres_server, name), folder).manage("migrate", "--verbosity", "0")
    yield name
    administer(_postgres_server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def sqlite_database(sqlite_template: Path, tmp_path: Path) -> Database:
    """An empty SQLite file."""
    file = tmp_path / "kitchen.sqlite3"
    shutil.copy(sqlite_template, file)
    return Database(f"sqlite:///{file}", tmp_path)


@pytest.fixture
def postgres_database(
    postgres_server: str, _postgres_template: str, tmp_path: Path
) -> Iterator[Database]:
    """An empty PostgreSQL database."""
    name = f"kitchen_{uuid.uuid4().hex}"
    yield Database(postgres_copy(postgres_server, name, _postgres_template), tmp_path)
    administer(postgres_server, f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def database(request: pytest.FixtureRequest) -> Any:
    """An empty database, once of each kind."""
    return request.getfixturevalue(f"{request.param}_database")


@pytest.fixture(scope="session")
def nurseries(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Nursery, Nursery]]:
    """Two places from which commands start at once, each one at a time."""
    pair = Nursery(tmp_path_factory.mktemp("one")), Nursery(tmp_path_factory.mktemp("two"))
    yield pair
    for one in pair:
        one.close()
