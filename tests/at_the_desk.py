"""Signing in, reading and pressing, for tests of pages."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

BACKEND = "django.contrib.auth.backends.ModelBackend"


def sign_in(client: Client, user: User) -> None:
    client.force_login(user, backend=BACKEND)


def read(client: Client, name: str, *args: object, **asked: str) -> str:
    """The page's text, one space between words."""
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return text_of(answer)


def press(client: Client, address: str, **typed: Any) -> Any:
    """A form sent with a key of its own."""
    return client.post(address, {"key": uuid.uuid4().hex, **typed})


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def told(answer: Any) -> list[str]:
    """The sentences of a refusal."""
    return [problem.message for problem in answer.context["problems"]]
