"""Small words of the pages of orders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django import template

from inventory.problems import Problem
from purchasing.selectors.consequences import Follows, Tried
from purchasing.selectors.order_page import LineRow

register = template.Library()


@register.filter
def cases_typed(line: LineRow, typed: Mapping[str, str]) -> str:
    """What was typed, else what is stored."""
    return typed.get(f"cases-{line.pk}", str(line.cases))


@register.filter
def why_typed(line: LineRow, typed: Mapping[str, str]) -> str:
    return typed.get(f"why-{line.pk}", line.why_word)


@register.simple_tag
def kept(typed: Mapping[str, str], name: str, line_id: int) -> str:
    """What was typed of one line before a refusal."""
    return typed.get(f"{name}-{line_id}", "")


@register.filter
def any_of(problems: Sequence[Problem], fields: str) -> bool:
    """Whether one of these inputs is at fault."""
    return any(problem.field in fields.split() for problem in problems)


@register.filter
def follows(tried: Tried | None, line_id: int) -> Follows | None:
    return tried.lines.get(line_id) if tried else None


@register.filter
def about(problems: Sequence[Problem], line_id: int) -> bool:
    """Whether something of this line is wrong."""
    return any(problem.field.endswith(f"-{line_id}") for problem in problems)
