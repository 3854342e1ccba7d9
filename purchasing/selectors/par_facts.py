"""What is set of one item at one location, as words: for the log, and to notice a stale form."""

from __future__ import annotations

from collections.abc import Iterable

from inventory.selectors.item_facts import as_word
from purchasing.models import Par


def par_facts(location_id: int, item_id: int) -> dict[str, str]:
    """One line of words a par row, by its weekday. One query."""
    rows = Par.objects.filter(location=location_id, item=item_id).select_related("supplied_by")
    return facts_of(rows)


def facts_of(rows: Iterable[Par]) -> dict[str, str]:
    """The same of rows read already, with where they come from."""
    return {_day(row): _words(row) for row in rows}


def _day(row: Par) -> str:
    return "every day" if row.weekday is None else f"weekday {row.weekday}"


def _words(row: Par) -> str:
    source = row.supplied_by.code if row.supplied_by else ""
    said = [as_word(row.par), row.unit, row.basis, as_word(row.service_level), source]
    return " ".join(word for word in said if word)
