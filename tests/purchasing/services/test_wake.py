from __future__ import annotations

import pytest
from kombu.exceptions import OperationalError

from config.celery import app
from purchasing.services.wake import TICK, wake
from purchasing.tasks import tick


def test_a_tick_is_asked_for_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    monkeypatch.setattr(type(app), "send_task", lambda self, name, **options: asked.append(name))
    wake()
    assert asked == [TICK] == [tick.name]


def test_a_broker_that_is_down_is_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    """The next tick finds what waits."""

    def down(self: object, name: str, **options: object) -> None:
        raise OperationalError

    monkeypatch.setattr(type(app), "send_task", down)
    wake()
