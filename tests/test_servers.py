"""The throw-away servers that the tests need really start."""

from __future__ import annotations

import psycopg
import pytest
from redis import Redis

from tests import servers
from tests.databases import Database


@pytest.mark.postgres
def test_a_postgres_server_answers(postgres_server: str) -> None:
    with psycopg.connect(postgres_server) as connection:
        assert connection.execute("SELECT 1").fetchone() == (1,)


@pytest.mark.worker
def test_a_redis_server_answers(redis_server: str) -> None:
    with Redis.from_url(redis_server) as client:
        assert client.ping() is True


def test_every_test_database_is_migrated_and_empty(database: Database) -> None:
    assert "[ ]" not in database.manage("showmigrations")


@pytest.mark.parametrize(
    ("ci", "outcome"), [("", pytest.skip.Exception), ("true", pytest.fail.Exception)]
)
def test_without_a_server_a_test_is_skipped_but_fails_in_ci(
    ci: str, outcome: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CI", ci)
    with pytest.raises(outcome, match="Redis is needed: no such program"):
        servers.or_skip("Redis", servers.CannotStart("no such program"))
