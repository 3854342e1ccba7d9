"""Replay past days under several rules of ordering, and compare what they cost."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from time import monotonic
from typing import Any

from django.core.management.base import CommandError, CommandParser

from inventory.management.refusing import RefusingCommand
from purchasing.engine.policies import POLICIES
from purchasing.printed_replay import replay_text
from purchasing.services.reorder import DEFAULT_SEED
from purchasing.services.replay import Asked, Replayed, replay_days

INTERRUPTED = 130  # the status of a program that was stopped from the keyboard
SECONDS_BETWEEN = 15  # a line of progress at most so often


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--from", required=True, dest="first", help="YYYY-MM-DD")
        parser.add_argument("--to", required=True, dest="last", help="YYYY-MM-DD, included")
        parser.add_argument(
            "--policy",
            nargs="+",
            action="extend",
            default=[],
            metavar="NAME",
            help=f"some of: {' '.join(POLICIES)}; all that have something to say",
        )
        parser.add_argument("--location", help="only the lines of this location")
        parser.add_argument("--seed", type=int, default=DEFAULT_SEED)
        parser.add_argument("--daily", type=Path, metavar="FOLDER", help="write tables by day")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        asked = Asked(
            first=_day("--from", options["first"]),
            last=_day("--to", options["last"]),
            policies=tuple(options["policy"]),
            location=options["location"],
            seed=options["seed"],
        )
        progress = _Progress(self, asked)
        try:
            found = replay_days(asked, progress.done)
        except KeyboardInterrupt:
            self.stderr.write("Stopped. A replay stores nothing, so nothing is half done.")
            sys.exit(INTERRUPTED)
        if options["daily"] is not None:
            _written(found, options["daily"])
        if options["as_json"]:
            self.print_json(found.document)
        else:
            self.stdout.write(replay_text(found.document))


class _Progress:
    """Days done, on standard error, where it takes a while."""

    def __init__(self, command: Command, asked: Asked) -> None:
        self._say = command.stderr.write
        self._first, self._days = asked.first, (asked.last - asked.first).days + 1
        self._spoke = monotonic()

    def done(self, day: date) -> None:
        now = monotonic()
        if now - self._spoke >= SECONDS_BETWEEN:
            self._spoke = now
            self._say(f"{day}: day {(day - self._first).days + 1} of {self._days}")


def _written(found: Replayed, folder: Path) -> None:
    try:
        found.write_daily(folder)
    except OSError as error:
        message = f"--daily: nothing can be written to {folder}: {error.strerror}"
        raise CommandError(message) from None


def _day(flag: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CommandError(f"{flag}: '{text}' is not a date; a date is YYYY-MM-DD") from None
