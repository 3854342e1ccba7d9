"""Field types that several tables share."""

from __future__ import annotations

import re
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q

CODE_PATTERN = re.compile(r"[A-Za-z0-9_.\-]{1,40}")

valid_code = RegexValidator(
    rf"^{CODE_PATTERN.pattern}\Z",
    "A code is up to 40 letters, digits, '-', '_' and '.'.",
    code="code",
)


def code_field(**options: Any) -> models.CharField[str, str]:
    """A code people type: unique, and never given to anything else, retired or not."""
    return models.CharField(max_length=40, validators=[valid_code], **{"unique": True, **options})


def weekdays_field(**options: Any) -> models.JSONField[Any, Any]:
    """A list of weekdays, Monday = 0."""
    return models.JSONField(default=list, blank=True, validators=[valid_weekdays], **options)


def valid_weekdays(value: object) -> None:
    if not isinstance(value, list) or not all(day in range(7) for day in value):
        raise ValidationError("Weekdays are numbers from 0 (Monday) to 6 (Sunday).")


def unique_with_blank(
    name: str, fields: list[str], blank: str, condition: Q | None = None
) -> list[models.UniqueConstraint]:
    """``fields`` once together, an empty ``blank`` counting as a value like any other.

    SQLite cannot treat nulls as equal, so the rows without ``blank`` get an index of their own.
    """
    rest = [field for field in fields if field != blank]
    empty = Q(**{f"{blank}__isnull": True})
    return [
        models.UniqueConstraint(fields=fields, condition=condition, name=name),
        models.UniqueConstraint(
            fields=rest,
            condition=empty & condition if condition is not None else empty,
            name=f"{name}_blank",
        ),
    ]
