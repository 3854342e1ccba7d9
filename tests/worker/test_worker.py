"""Real workers with their beat: with Redis, with a folder for a queue, killed in mid-task."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import blake2b
from pathlib import Path

import psycopg
import pytest

from tests.databases import REPOSITORY, Database
from tests.worker.due_work import ask_for_drafts, claimed, done, drafts, write_book

pytestmark = pytest.mark.worker
PATIENCE = 120  # seconds; machines that run tests are shared
LEASE = 3


@contextmanager
def worker(database: Database, redis: str = "") -> Iterator[subprocess.Popen[bytes]]:
    """A worker that ticks every second, ended with its beat."""
    words = ["-m", "celery", "-A", "config", "worker", "-B", "-P", "solo", "--loglevel", "WARNING"]
    process = subprocess.Popen(
        [sys.executable, *words],
        cwd=REPOSITORY,
        env=database.environment(REDIS_URL=redis, TICK_SECONDS="1", CLAIM_SECONDS=f"{LEASE}"),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield process
    finally:
        kill(process)


def kill(process: subprocess.Popen[bytes]) -> None:
    """``kill -9`` of the worker and of the beat that it started."""
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def wait_until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < deadline, "the worker did not do it in time"
        time.sleep(0.2)


@pytest.fixture
def with_work(database: Database, tmp_path: Path) -> Database:
    database.manage("load_workbook", str(write_book(tmp_path / "book")))
    ask_for_drafts(database)
    return database


def test_a_tick_through_redis_draws_up_drafts(with_work: Database, redis_server: str) -> None:
    with worker(with_work, redis_server):
        wait_until(lambda: done(with_work))
    assert drafts(with_work) == 1


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_without_a_server_messages_lie_in_a_folder(with_work: Database) -> None:
    with worker(with_work):
        wait_until(lambda: done(with_work))
    assert drafts(with_work) == 1
    assert (with_work.data_dir / "queue").is_dir()


@contextmanager
def runs_must_wait(database: Database) -> Iterator[None]:
    """Somebody else is writing drafts: a run stops half-way, before its own."""
    key = int.from_bytes(blake2b(b"reorder", digest_size=8).digest(), "big", signed=True)
    with psycopg.connect(database.url) as connection:
        connection.execute("SELECT pg_advisory_xact_lock(%s)", [key])
        yield


@pytest.mark.postgres
@pytest.mark.parametrize("database", ["postgres"], indirect=True)
def test_a_task_whose_worker_was_killed_is_found_again(
    with_work: Database, redis_server: str
) -> None:
    with runs_must_wait(with_work), worker(with_work, redis_server) as first:
        wait_until(lambda: claimed(with_work))
        kill(first)
        assert not done(with_work)
    assert drafts(with_work) == 0
    with worker(with_work, redis_server):
        wait_until(lambda: done(with_work))
    assert drafts(with_work) == 1
