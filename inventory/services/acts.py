"""One act, one transaction; one request, one act.

``one_act`` wraps every service that writes. ``once`` runs such a service under a key, so that
the same request again (a second press, a phone that did not hear the answer) gets the first
answer and changes nothing. The HTTP header ``Idempotency-Key`` follows the IETF draft of that
name (from memory).
"""

from __future__ import annotations

import functools
import json
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from django.db import transaction

from inventory.models import Submission
from inventory.problems import Problem, Refused

if TYPE_CHECKING:
    from django.contrib.auth.models import User

P = ParamSpec("P")
T = TypeVar("T")

KEPT_DAYS = 30
LONGEST_KEY = 80

_within_once: ContextVar[bool] = ContextVar("within_once", default=False)


def one_act(function: Callable[P, T]) -> Callable[P, T]:
    """The outermost transaction, unless ``once`` has opened it already."""

    @functools.wraps(function)
    def in_one_transaction(*args: P.args, **kwargs: P.kwargs) -> T:
        with transaction.atomic(durable=not _within_once.get()):
            return function(*args, **kwargs)

    return in_one_transaction


@dataclass(frozen=True, slots=True)
class Asked:
    """A request: ``key`` is the sender's, ``what`` names the act and its object, such as
    ``approve:S1-20260304-1``, ``body`` is everything that was sent."""

    key: str
    what: str
    body: Mapping[str, Any]
    by: User | None

    @property
    def digest(self) -> str:
        text = json.dumps(self.body, sort_keys=True, default=str, separators=(",", ":"))
        return sha256(text.encode()).hexdigest()


def once(asked: Asked, *, at: datetime, act: Callable[[], Mapping[str, Any]]) -> dict[str, Any]:
    """Run ``act`` unless this key has been answered; returns its answer (JSON values only).

    A refusal stores nothing, so the key may be used again with other figures. Refused if the
    key was used for something else.
    """
    if not asked.key or len(asked.key) > LONGEST_KEY:
        raise Refused(
            Problem("key_missing", f"Send a key of 1 to {LONGEST_KEY} characters.", "key")
        )
    with transaction.atomic(durable=True):
        row, is_new = Submission.objects.get_or_create(
            key=asked.key,
            defaults={"by": asked.by, "what": asked.what, "body_digest": asked.digest, "at": at},
        )
        if not is_new:
            return _answer_again(row, asked)
        token = _within_once.set(True)
        try:
            answer = json.loads(json.dumps(dict(act()), default=str))
        finally:
            _within_once.reset(token)
        row.answer = answer
        row.save(update_fields=["answer"])
        return dict(answer)


def _answer_again(row: Submission, asked: Asked) -> dict[str, Any]:
    who = asked.by.pk if asked.by else None
    if (row.what, row.body_digest, row.by_id) != (asked.what, asked.digest, who):
        raise Refused(
            Problem(
                "key_used",
                "This form was sent before with other figures. Open the page again to see what "
                "was stored, then change it there.",
                "key",
            )
        )
    return dict(row.answer)


def forget_old(*, at: datetime) -> int:
    """Drop answers that nobody will ask for again. Returns how many."""
    return Submission.objects.filter(at__lt=at - timedelta(days=KEPT_DAYS)).delete()[0]
