"""Do what is due now; safe to run at any time, by several at once."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.management.refusing import RefusingCommand
from purchasing.models import Finding
from purchasing.services.due import do_what_is_due
from purchasing.services.findings import find_if_asked
from purchasing.services.replays import replay_if_asked
from purchasing.services.sending import send_what_waits
from purchasing.services.use_by_looks import look_if_due


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", dest="as_json")

    def work(self, **options: Any) -> None:
        mail = send_what_waits(at=timezone.now())
        done = do_what_is_due(at=timezone.now())
        looked = look_if_due(at=timezone.now())
        found = find_if_asked(clock=timezone.now)
        replayed = replay_if_asked(clock=timezone.now, meanwhile=_do_what_is_short)
        if options["as_json"]:
            self.print_json(
                {
                    "done": done,
                    "sent": mail.sent,
                    "failed": mail.failed,
                    "looked": looked,
                    "found": found,
                    "replayed": replayed,
                }
            )
            return
        for words, numbers in (("Sent", mail.sent), ("Could not send", mail.failed)):
            if numbers:
                self.stdout.write(f"{words}: {', '.join(numbers)}.")
        if looked:
            self.stdout.write("Lots at risk worked out.")
        for kind in found:
            self.stdout.write(f"Worked out: {Finding.Kind(kind).label}.")
        if replayed:
            self.stdout.write("The replay that was asked for is done.")
        self.stdout.write(f"{done} due moments done." if done else "Nothing is due.")


def _do_what_is_short() -> None:
    """Nothing that has a deadline waits for a replay, and nothing that takes a minute."""
    send_what_waits(at=timezone.now())
    do_what_is_due(at=timezone.now())
    look_if_due(at=timezone.now())
    find_if_asked(clock=timezone.now)
