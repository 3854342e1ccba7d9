"""Processes that start at once: a parent that has imported everything forks them.

``python -m tests.concurrency.nursery`` reads one request a line (JSON: the database, the words
of a management command, a folder for the output), says the number of the process that does
it, and its exit status once it has ended. What is timed, killed or run side by side is the
work itself, not the start of Python.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from tests.databases import REPOSITORY, Database

COMMANDS = ("backup", "load_workbook", "reorder", "restore", "tick")


@dataclass(frozen=True, slots=True)
class Ended:
    """``status``: negative where a signal ended it."""

    status: int
    out: str
    err: str


class Nursery:
    """One process at a time."""

    def __init__(self, folder: Path) -> None:
        self._parent = subprocess.Popen(
            [sys.executable, "-m", "tests.concurrency.nursery"],
            cwd=REPOSITORY,
            env=Database("sqlite://", folder).environment(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self._folder = folder

    def begin(self, database: Database, *words: str) -> int:
        """Start a command on a database; returns the process's number."""
        self._out = self._folder / uuid.uuid4().hex
        self._out.mkdir()
        request = {
            "url": database.url,
            "data_dir": str(database.data_dir),
            "words": words,
            "out": str(self._out),
        }
        stdin = _there(self._parent.stdin)
        stdin.write(f"{json.dumps(request)}\n")
        stdin.flush()
        return self._number()

    def end(self) -> Ended:
        """Wait for the command."""
        status = self._number()
        return Ended(status, (self._out / "out").read_text(), (self._out / "err").read_text())

    def run(self, database: Database, *words: str) -> str:
        """Output of a command that must end well."""
        self.begin(database, *words)
        ended = self.end()
        assert ended.status == 0, ended.err
        return ended.out

    def after(self, database: Database, *words: str) -> Any:
        """What the database says once the command, if any, has run (``contents``)."""
        return json.loads(self.run(database, "contents", *words))

    def close(self) -> None:
        _there(self._parent.stdin).close()
        self._parent.wait(timeout=20)
        _there(self._parent.stdout).close()

    def _number(self) -> int:
        return int(_there(self._parent.stdout).readline())


def _there(stream: IO[str] | None) -> IO[str]:
    assert stream is not None
    return stream


def main() -> None:
    import django
    from django.core.management import get_commands, load_command_class

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    for name in COMMANDS:
        load_command_class(get_commands()[name], name)
    for line in sys.stdin:
        number = os.fork()
        if number == 0:
            _child(json.loads(line))
        _say(number)
        _, status = os.waitpid(number, 0)
        _say(os.waitstatus_to_exitcode(status))


def _say(number: int) -> None:
    sys.stdout.write(f"{number}\n")
    sys.stdout.flush()


def _child(request: dict[str, Any]) -> None:
    for descriptor, name in ((1, "out"), (2, "err")):
        stream = os.open(f"{request['out']}/{name}", os.O_WRONLY | os.O_CREAT)
        os.dup2(stream, descriptor)
    status = 1
    try:
        _settle(request["url"], Path(request["data_dir"]))
        _act(request["words"])
        status = 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 1
    except BaseException:
        sys.excepthook(*sys.exc_info())
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


def _settle(url: str, data_dir: Path) -> None:
    """The parent has read the settings, and has connected to nothing."""
    from django.conf import settings
    from django.db import connections

    from config.settings import _database

    os.environ["DATABASE_URL"] = url
    connections.settings = connections.configure_settings({"default": _database()})
    connections["default"] = connections.create_connection("default")
    settings.MEDIA_ROOT = data_dir / "uploads"


def _act(words: list[str]) -> None:
    from django.core.management import call_command
    from django.db import connections

    from tests.concurrency import contents

    if words[0] == "contents":
        contents.write(words[1:])
    else:
        call_command(*words)
    connections.close_all()


if __name__ == "__main__":
    main()
