"""Small words of the pages of orders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django import template
from django.utils.translation import gettext_lazy as _

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


@register.simple_tag
def fact(facts: Mapping[str, str], typed: Mapping[str, str], name: str) -> str:
    """What was typed before a refusal, else what is stored."""
    return typed[name] if name in typed else facts.get(name, "")


@dataclass(frozen=True, slots=True)
class OfferField:
    id: str
    label: str
    value: str
    is_yes_no: bool
    is_day: bool


_OFFER_FIELDS = {
    "pack_qty": _("a case holds"),
    "pack_unit": _("in this unit"),
    "pack_text": _("as they write it"),
    "price": _("price"),
    "priced_per": _("priced per (case or a unit)"),
    "valid_from": _("the price holds from (blank: always)"),
    "minimum_cases": _("fewest cases"),
    "case_multiple": _("in steps of"),
    "rank": _("our choice (1: first)"),
    "catch_weight": _("each case weighs differently"),
    "nominal_qty": _("usual weight of such a case"),
    "gtin": _("GTIN on the case"),
    "piece_price": _("price of a single piece"),
    "pieces_per_case": _("pieces in a case"),
}


@register.simple_tag
def offer_fields(of: str, facts: Mapping[str, str], typed: Mapping[str, str]) -> list[OfferField]:
    """The fields of an offer's form, filled with what was typed or what is stored."""
    return [
        OfferField(
            id=f"{name}-{of}",
            label=str(label),
            value=typed.get(f"{name}-{of}", "" if of == "new" else facts.get(name, "")),
            is_yes_no=name == "catch_weight",
            is_day=name == "valid_from",
        )
        for name, label in _OFFER_FIELDS.items()
    ]
