"""Running a table of rows that a constraint of the database must refuse."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.db.models import CheckConstraint, Model

Facts = dict[str, Any]
# A sound row of each table, made from rows that are there.
Sound = dict[type[Model], Callable[[Any], Facts]]


@dataclass(frozen=True, slots=True)
class Case:
    """A row that is sound but for ``wrong`` is refused by ``constraint``; where ``twice`` the
    first such row is taken and the second refused."""

    constraint: str
    model: type[Model]
    wrong: Facts = field(default_factory=dict)
    twice: bool = False

    def __str__(self) -> str:
        return f"{self.constraint}-{'-'.join(self.wrong) or 'again'}"


def refused(case: Case, sound: Facts) -> None:
    """The sound row is taken, the wrong one refused, for the reason named."""
    rows = case.model._default_manager
    with transaction.atomic():
        rows.create(**sound)
        transaction.set_rollback(True)
    if case.twice:
        rows.create(**{**sound, **case.wrong})
    with pytest.raises(IntegrityError, match=_words(case)), transaction.atomic():
        rows.create(**{**sound, **case.wrong})


def _words(case: Case) -> str:
    """SQLite names the columns of a broken unique constraint, not the constraint."""
    return r"UNIQUE constraint failed|unique constraint" if case.twice else case.constraint


def untried(app: str, cases: Iterable[Case]) -> set[str]:
    """Constraints of an app that no case breaks."""
    models = apps.get_app_config(app).get_models()
    named = {constraint.name for model in models for constraint in model._meta.constraints}
    return named - {case.constraint for case in cases}


def kinds_agree(case: Case) -> bool:
    """Checks are broken by one row, unique constraints by two."""
    (found,) = [one for one in case.model._meta.constraints if one.name == case.constraint]
    return isinstance(found, CheckConstraint) is not case.twice
