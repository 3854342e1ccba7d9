"""Databases of their own for tests that run commands and several processes at once."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import psycopg

REPOSITORY = Path(__file__).resolve().parents[1]


@dataclass(frozen=True, slots=True)
class Database:
    """A migrated database without a row; every command runs in a process of its own."""

    url: str
    data_dir: Path

    @property
    def is_postgres(self) -> bool:
        return self.url.startswith("postgres")

    def environment(self, **extra: str) -> dict[str, str]:
        return os.environ | {
            "DATABASE_URL": self.url,
            "DATA_DIR": str(self.data_dir),
            "REDIS_URL": "",
            **extra,
        }

    def start(self, *words: str, **extra: str) -> subprocess.Popen[str]:
        """``python *words`` in the background, with its streams as text."""
        return subprocess.Popen(
            [sys.executable, *words],
            cwd=REPOSITORY,
            env=self.environment(**extra),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def manage(self, *words: str, status: int = 0, **extra: str) -> str:
        """Output of a management command that must end with ``status``."""
        process = self.start("manage.py", *words, **extra)
        out, err = process.communicate()
        assert process.returncode == status, f"{words} ended with {process.returncode}:\n{err}"
        return out


def together(processes: Iterable[subprocess.Popen[str]]) -> list[str]:
    """Wait for all; the outputs of processes that must have ended well."""
    outputs = []
    for process in processes:
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0, err
        outputs.append(out)
    return outputs


def postgres_copy(server: str, name: str, template: str) -> str:
    """A new database on ``server``, a copy of ``template``; returns its address."""
    administer(server, f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    return named(server, name)


def administer(server: str, statement: str) -> None:
    connection: psycopg.Connection[Any]
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(statement.encode())


def named(server: str, database: str) -> str:
    return urlunsplit(urlsplit(server)._replace(path=f"/{database}"))
