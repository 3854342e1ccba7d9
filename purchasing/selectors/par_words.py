"""Pars as people say them: days, what decides, and one sentence for one place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.utils.translation import gettext as _

from inventory.selectors.item_facts import as_word
from purchasing import words
from purchasing.models import Par

PER_CENT = 100


def short_days() -> tuple[str, ...]:
    """Monday to Sunday, as a column's head."""
    return (_("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun"))


def day_names() -> tuple[str, ...]:
    """Every day, then Monday to Sunday: the rows of the form."""
    return (
        _("Every day"),
        _("Monday"),
        _("Tuesday"),
        _("Wednesday"),
        _("Thursday"),
        _("Friday"),
        _("Saturday"),
        _("Sunday"),
    )


def basis_words(basis: str) -> str:
    return {
        "fixed": _("the par"),
        "forecast": _("the forecast"),
        "greater": _("the greater of both"),
        "cost": _("the least cost"),
    }.get(basis, basis)


def level_words(row: Par) -> str:
    """Per cent of days on which it must not run out; nothing: the house's own."""
    level = row.service_level
    return "" if level is None else f"{as_word(level * PER_CENT)} %"


def par_words(row: Par) -> str:
    """The figure of one row, in its unit."""
    return "" if row.par is None else words.exactly(row.par, row.unit or row.item.unit)


def days_said(rows: Sequence[Par]) -> str:
    """``every day 12 kg; Fri 20 kg``. Rows with their items."""
    days = short_days()
    said = []
    for row in sorted(rows, key=lambda one: -1 if one.weekday is None else one.weekday):
        day = _("every day") if row.weekday is None else days[row.weekday]
        said.append(f"{day} {par_words(row)}".strip())
    return "; ".join(said)


def par_sentence(rows: Sequence[Par]) -> str:
    """``every day 12 kg; Fri 20 kg: the par``. Rows with their items."""
    bases = distinct(basis_words(row.basis) for row in rows)
    return f"{days_said(rows)}: {', '.join(bases)}"


def distinct(said: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(word for word in said if word))
