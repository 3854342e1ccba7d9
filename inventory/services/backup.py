"""A full copy of database and uploaded files in one tar file, and back.

SQLite is copied by ``VACUUM INTO`` (a consistent copy while others write), PostgreSQL by
``pg_dump``. Restoring replaces everything; it happens in one transaction or not at all.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import tarfile
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.db import connection

from inventory.problems import Problem, Refused

LABEL = "forepar-backup.json"
UPLOADS = "uploads"
DATABASE = "database"
FORMAT = 1


def backup(path: Path) -> None:
    """Write ``path`` (a tar file), complete or not at all."""
    if path.is_dir():
        raise Refused(_problem("a_folder", f"{path} is a folder. Name a file in it."))
    if not path.parent.is_dir():
        raise Refused(_problem("no_folder", f"There is no folder {path.parent}. Make it first."))
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        copy = Path(folder) / DATABASE
        _by_vendor(_dump_sqlite, _dump_postgres)(copy)
        label = Path(folder) / LABEL
        label.write_text(json.dumps({"format": FORMAT, "database": connection.vendor}))
        bundle = Path(folder) / "bundle.tar"
        with tarfile.open(bundle, "w") as tar:
            tar.add(label, LABEL)
            tar.add(copy, DATABASE)
            if settings.MEDIA_ROOT.is_dir():
                tar.add(settings.MEDIA_ROOT, UPLOADS)
        os.replace(bundle, path)


def restore(path: Path) -> None:
    """Replace database and files by those of a backup of the same kind of database."""
    with tempfile.TemporaryDirectory() as folder:
        _unpack(path, Path(folder))
        _check_label(path, Path(folder))
        _by_vendor(_load_sqlite, _load_postgres)(Path(folder) / DATABASE)
        uploads = Path(folder) / UPLOADS
        if uploads.is_dir():
            shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
            shutil.copytree(uploads, settings.MEDIA_ROOT)


def _by_vendor(
    sqlite: Callable[[Path], None], postgres: Callable[[Path], None]
) -> Callable[[Path], None]:
    return sqlite if connection.vendor == "sqlite" else postgres


def _unpack(path: Path, folder: Path) -> None:
    try:
        with tarfile.open(path) as tar:
            tar.extractall(folder, filter="data")
    except FileNotFoundError:
        raise Refused(_problem("no_backup", f"There is no file {path}.")) from None
    except (tarfile.TarError, OSError) as error:
        message = f"{path} is not a backup that can be read ({error}). Nothing was changed."
        raise Refused(_problem("not_a_backup", message)) from None


def _check_label(path: Path, folder: Path) -> None:
    said = _label(folder / LABEL)
    if said.get("format") != FORMAT or not (folder / DATABASE).is_file():
        message = f"{path} was not made by the backup command. Nothing was changed."
        raise Refused(_problem("not_a_backup", message))
    if said.get("database") != connection.vendor:
        message = (
            f"{path} holds a {said.get('database')} database, this one is {connection.vendor}. Use "
            "save_workbook and load_workbook to move between the two."
        )
        raise Refused(_problem("other_database", message))


def _label(file: Path) -> dict[str, object]:
    try:
        said = json.loads(file.read_bytes())
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def _dump_sqlite(copy: Path) -> None:
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(copy)])


def _load_sqlite(copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as source:
        verdict = _verdict(source)
        if verdict != "ok":
            message = f"The copy is damaged ({verdict}). Nothing was changed."
            raise Refused(_problem("damaged_backup", message))
        connection.ensure_connection()
        source.backup(connection.connection)


def _verdict(source: sqlite3.Connection) -> str:
    try:
        return str(source.execute("PRAGMA integrity_check").fetchone()[0]).splitlines()[0]
    except sqlite3.DatabaseError as error:
        return str(error)


def _dump_postgres(copy: Path) -> None:
    _run("pg_dump", "--format=custom", "--no-owner", f"--file={copy}")


def _load_postgres(copy: Path) -> None:
    connection.close()
    _run(
        "pg_restore",
        "--clean",
        "--if-exists",
        "--no-owner",
        "--single-transaction",
        f"--dbname={connection.settings_dict['NAME']}",
        str(copy),
    )


def _run(program: str, *words: str) -> None:
    told = connection.settings_dict
    environment = os.environ | {
        "PGHOST": told["HOST"] or "",
        "PGPORT": str(told["PORT"] or ""),
        "PGUSER": told["USER"] or "",
        "PGPASSWORD": told["PASSWORD"] or "",
        "PGDATABASE": str(told["NAME"]),
    }
    environment = {name: value for name, value in environment.items() if value}
    try:
        subprocess.run([program, *words], env=environment, check=True, capture_output=True)
    except FileNotFoundError:
        message = f"{program} is not installed. Install the PostgreSQL client programs."
        raise Refused(_problem("no_client", message)) from None
    except subprocess.CalledProcessError as error:
        said = error.stderr.decode(errors="replace").strip()
        raise Refused(
            _problem("client_failed", f"{program} failed: {said}. Nothing was changed.")
        ) from None


def _problem(code: str, message: str) -> Problem:
    return Problem(code, message, "path")
