"""The page of replays as tests ask it, and its worker at work."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from purchasing.models import Replay
from purchasing.services.replays import replay_if_asked
from tests.purchasing.services.replay_kitchen import FIRST
from tests.purchasing.web.shelf import text_of

DAYS = {"first": str(FIRST), "last": str(FIRST + timedelta(days=3))}


def ask(client: Client, key: str = "k", **changed: Any) -> str:
    typed = {**DAYS, "policy": ["pars", "fixed", "mean"], **changed}
    return text_of(client.post("/replay/ask/", {"key": key, **typed}, follow=True))


def shown(client: Client) -> str:
    response = client.get("/replay/")
    assert response.status_code == 200
    return text_of(response)


def worked_out(**more: Any) -> bool:
    usual: dict[str, Any] = {"clock": timezone.now, "meanwhile": lambda: None}
    return replay_if_asked(**{**usual, **more})


def at_work(**facts: Any) -> None:
    Replay.objects.update(**facts)
