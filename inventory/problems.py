"""What is wrong and what to do about it, as values. Pure: every layer may use it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, in a sentence that says what would be right.

    ``code`` is stable and for programs, ``message`` is for people, ``field`` names the
    input at fault (empty when it is the whole), ``data`` holds the figures of the message.
    """

    code: str
    message: str
    field: str = ""
    data: Mapping[str, object] = dataclasses.field(default_factory=dict)


class Refused(Exception):
    """Nothing was stored; ``problems`` says why, all of them at once."""

    def __init__(self, problems: Iterable[Problem] | Problem) -> None:
        self.problems: tuple[Problem, ...] = (
            (problems,) if isinstance(problems, Problem) else tuple(problems)
        )
        super().__init__("\n".join(problem.message for problem in self.problems))


class NotThere(Exception):
    """No such thing, or not for this person: the answer is the same for both."""
