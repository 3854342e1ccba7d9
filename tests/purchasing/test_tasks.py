"""Tasks call one service, and say nothing themselves."""

from __future__ import annotations

from datetime import datetime
from threading import Event

import pytest
from celery.signals import worker_shutting_down
from django.utils import timezone

from config.celery import app
from purchasing import tasks


def test_a_tick_does_what_is_due_now(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[datetime] = []

    def note(*, at: datetime) -> int:
        seen.append(at)
        return 0

    monkeypatch.setattr(tasks, "do_what_is_due", note)
    monkeypatch.setattr(tasks, "send_what_waits", note)
    monkeypatch.setattr(tasks, "look_if_due", note)
    found: list[object] = []
    monkeypatch.setattr(tasks, "find_if_asked", lambda **words: found.append(words["clock"]))
    monkeypatch.setattr(tasks, "replay_if_asked", lambda **words: words["meanwhile"]())
    before = timezone.now()
    tasks.tick()
    assert (len(seen), len(found)) == (6, 2)  # once more between the days of a replay
    assert before <= seen[0] <= seen[1] <= seen[2] <= timezone.now()


def test_a_worker_that_is_asked_to_end_hands_a_replay_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tasks, "_do_what_is_short", lambda: None)
    ending: list[bool] = []
    monkeypatch.setattr(
        tasks, "replay_if_asked", lambda **words: ending.append(words["is_ending"]())
    )
    monkeypatch.setattr(tasks, "_ending", Event())
    tasks.tick()
    worker_shutting_down.send(sender="here", sig="TERM", how="Warm", exitcode=0)
    tasks.tick()
    assert ending == [False, True]


def test_the_beat_has_one_entry_whose_message_carries_nothing() -> None:
    (entry,) = app.conf.beat_schedule.values()
    assert entry["task"] == tasks.tick.name
    assert not {"args", "kwargs"} & set(entry)
    assert entry["options"]["expires"] < entry["schedule"]
