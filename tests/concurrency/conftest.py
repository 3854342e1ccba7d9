"""As many databases as a test wants, of each kind."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.databases import Database, administer, postgres_copy


@dataclass(frozen=True, slots=True)
class Databases:
    """``first`` is empty; more are made as copies of one that nobody is connected to."""

    first: Database
    folder: Path
    server: str
    made: ExitStack

    def copy(self, of: Database) -> Database:
        folder = self.folder / uuid.uuid4().hex
        folder.mkdir()
        if not of.is_postgres:
            file = folder / "kitchen.sqlite3"
            shutil.copy(of.url.removeprefix("sqlite:///"), file)
            return Database(f"sqlite:///{file}", folder)
        name = f"copy_{folder.name}"
        url = postgres_copy(self.server, name, urlsplit(of.url).path[1:])
        drop = f'DROP DATABASE "{name}" WITH (FORCE)'
        self.made.callback(partial(administer, self.server, drop))
        return Database(url, folder)


@pytest.fixture
def databases(
    database: Database, tmp_path: Path, request: pytest.FixtureRequest
) -> Iterator[Databases]:
    server = request.getfixturevalue("postgres_server") if database.is_postgres else ""
    with ExitStack() as made:
        yield Databases(database, tmp_path, server, made)
