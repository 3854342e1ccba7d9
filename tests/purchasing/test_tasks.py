"""Tasks call one service, and say nothing themselves."""

from __future__ import annotations

from datetime import datetime

import pytest
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
    monkeypatch.setattr(tasks, "find_if_asked", lambda **words: [])
    monkeypatch.setattr(tasks, "replay_if_asked", lambda **words: words["meanwhile"]())
    before = timezone.now()
    tasks.tick()
    assert len(seen) == 6  # once more between the days of a replay
    assert before <= seen[0] <= seen[1] <= seen[2] <= timezone.now()


def test_the_beat_has_one_entry_whose_message_carries_nothing() -> None:
    (entry,) = app.conf.beat_schedule.values()
    assert entry["task"] == tasks.tick.name
    assert not {"args", "kwargs"} & set(entry)
    assert entry["options"]["expires"] < entry["schedule"]
