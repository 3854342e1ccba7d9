"""A form that was pressed: done once, or refused with every problem and nothing lost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.contrib import messages
from django.http import HttpRequest

from inventory.problems import Problem, Refused
from inventory.services.acts import Asked, once
from inventory.web.viewing import now, user_of

Done = TypeVar("Done")

KEY = "key"
_NOT_THE_BODY = {KEY, "csrfmiddlewaretoken"}
STALE = "stale"


@dataclass(frozen=True, slots=True)
class Posted:
    """``answer`` of the act, or ``problems`` and nothing done."""

    answer: Mapping[str, Any] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    @property
    def is_done(self) -> bool:
        return not self.problems

    @property
    def status(self) -> int:
        """409: somebody else was quicker; 422: refused by a rule."""
        if self.is_done:
            return 200
        return 409 if any(problem.code == STALE for problem in self.problems) else 422


def post_once(request: HttpRequest, what: str, act: Callable[[], Mapping[str, Any]]) -> Posted:
    """Run ``act`` under the form's key. ``what`` names it: ``approve:S1-20260304-1``."""
    body = {
        name: request.POST.getlist(name) for name in sorted(request.POST.keys() - _NOT_THE_BODY)
    }
    asked = Asked(request.POST.get(KEY, ""), what, body, user_of(request))
    try:
        return Posted(answer=once(asked, at=now(), act=act))
    except Refused as refused:
        return Posted(problems=refused.problems)


def all_at_once(
    problems: Iterable[Problem], act: Callable[[], Done], *, are_last: bool = False
) -> Done:
    """What cannot be read and what the service has against the rest, in one answer. Within
    ``post_once`` only: a refusal undoes what ``act`` did with stand-ins for what cannot be read,
    and what it says of the same inputs is left out. ``are_last``: their inputs stand below."""
    unread = tuple(problems)
    fields = {problem.field for problem in unread}
    try:
        done = act()
    except Refused as refused:
        said = tuple(problem for problem in refused.problems if problem.field not in fields)
        raise Refused((*said, *unread) if are_last else (*unread, *said)) from refused
    if unread:
        raise Refused(unread)
    return done


def say(request: HttpRequest, sentence: str) -> None:
    """One sentence at the top of the next page."""
    messages.success(request, sentence)
