"""What is set of one item at one location, as words: for the log, and to notice a stale form."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _

from inventory.selectors.item_facts import as_word
from purchasing.models import Par
from purchasing.selectors.par_words import PER_CENT, short_days

_EVERY_DAY, _WEEKDAY = "every day", "weekday "


def par_facts(location_id: int, item_id: int) -> dict[str, str]:
    """One line of words a par row, by its weekday. One query."""
    rows = Par.objects.filter(location=location_id, item=item_id).select_related("supplied_by")
    return facts_of(rows)


def facts_of(rows: Iterable[Par]) -> dict[str, str]:
    """The same of rows read already, with where they come from."""
    return {_day(row): _words(row) for row in rows}


def _day(row: Par) -> str:
    return _EVERY_DAY if row.weekday is None else f"{_WEEKDAY}{row.weekday}"


def weekday_of(name: str) -> int | None:
    """Of a line of ``facts_of``; None: every day."""
    return None if name == _EVERY_DAY else int(name.removeprefix(_WEEKDAY))


def day_said(name: str) -> str:
    weekday = weekday_of(name)
    return _("every day") if weekday is None else short_days()[weekday]


def _words(row: Par) -> str:
    source = row.supplied_by.code if row.supplied_by else ""
    said = [as_word(row.par), row.unit, row.basis, as_word(row.service_level), source]
    return " ".join(word for word in said if word)


def typed_facts(said: str) -> dict[str, str] | None:
    """The words of one row as the form takes them: ``par``, ``unit``, ``basis``,
    ``service_level`` in per cent and ``supplied_by``. None: they cannot be read."""
    parts = said.split(" ")
    place = next((n for n, part in enumerate(parts) if part in Par.Basis.values), None)
    if place is None:
        return None
    figures, after = parts[:place], parts[place + 1 :]
    par = figures.pop(0) if figures and _number(figures[0]) is not None else ""
    level = _number(after[0]) if after else None
    if level is not None and 0 < level < 1:
        after.pop(0)
    else:
        level = None
    return {
        "par": par,
        "unit": " ".join(figures),
        "basis": parts[place],
        "service_level": as_word(None if level is None else level * PER_CENT),
        "supplied_by": " ".join(after),
    }


def _number(text: str) -> Decimal | None:
    try:
        return Decimal(text)
    except InvalidOperation:
        return None
