"""Small words of the templates."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.problems import Problem

register = template.Library()


@register.simple_tag
def key() -> SafeString:
    """The key of a form: pressing it twice is one act."""
    return format_html('<input type="hidden" name="key" value="{}">', uuid.uuid4().hex)


@register.simple_tag
def wrong(problems: Sequence[Problem], field: str) -> SafeString | str:
    """Marks an input at fault, and names the sentence that says why."""
    if any(problem.field == field for problem in problems):
        return format_html('aria-invalid="true" aria-describedby="problem-{}"', field)
    return ""


@register.filter
def typed(values: Mapping[str, Any], name: str) -> str:
    """What a person typed before the refusal."""
    return str(values.get(name, ""))


@register.filter
def money(value: Decimal | None) -> str:
    """Two places; the currency stands once with the column."""
    return "" if value is None else f"{value:,.2f}"
