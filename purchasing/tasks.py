"""Tasks are interfaces: they call one service and may run twice."""

from __future__ import annotations

from threading import Event

from celery import shared_task
from celery.signals import worker_shutting_down
from django.utils import timezone

from purchasing.services.due import do_what_is_due
from purchasing.services.findings import find_if_asked
from purchasing.services.replays import replay_if_asked
from purchasing.services.sending import send_what_waits
from purchasing.services.use_by_looks import look_if_due


@shared_task(name="purchasing.tasks.tick")
def tick() -> None:
    """Do what is due now; safe to run at any time, by several at once."""
    _do_what_is_short()
    replay_if_asked(clock=timezone.now, meanwhile=_do_what_is_short, is_ending=_ending.is_set)


def _do_what_is_short() -> None:
    """Nothing that has a deadline waits for a replay, and nothing that takes a minute."""
    send_what_waits(at=timezone.now())
    do_what_is_due(at=timezone.now())
    look_if_due(at=timezone.now())
    find_if_asked(clock=timezone.now)


_ending = Event()


@worker_shutting_down.connect
def _hand_back(**_words: object) -> None:
    """A worker that is asked to end does not first replay a year."""
    _ending.set()
