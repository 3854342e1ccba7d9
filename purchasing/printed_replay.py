"""A replay set for a terminal: one line a policy, what they are compared by first."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

WIDTH = 96
NAMED = 6  # lines named in a note; the document has them all
_COLUMNS = (
    ("avoidable", "avoidable"),
    ("lost_margin", "missed"),
    ("waste", "waste"),
    ("holding", "holding"),
    ("fees", "fees"),
    ("spend", "spent"),
    ("orders", "orders"),
    ("stockout_days", "ran out"),
    ("fill_rate", "filled"),
)


def replay_text(document: Mapping[str, Any]) -> str:
    policies = document["policies"]
    rows = [["", *(title for _, title in _COLUMNS)], *map(_row, policies)]
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    title = (
        f"{document['from']} to {document['to']}, {document['lines']} lines,"
        f" money in {document['currency']}"
    )
    notes = [_wrapped(note) for note in _notes(document)]
    return "\n".join([title, "", *(_set(row, widths) for row in rows), "", *notes])


def _row(policy: Mapping[str, Any]) -> list[str]:
    totals = policy["totals"]
    return [policy["policy"], *(_cell(name, totals[name]) for name, _ in _COLUMNS)]


def _cell(name: str, value: object) -> str:
    return f"{value:,}" if isinstance(value, int) else str(value)


def _set(row: Sequence[str], widths: Sequence[int]) -> str:
    first, rest = row[0], row[1:]
    cells = [f"{cell:>{width}}" for cell, width in zip(rest, widths[1:], strict=True)]
    return "  ".join([f"{first:<{widths[0]}}", *cells])


def _notes(document: Mapping[str, Any]) -> list[str]:
    """What must be known to read the table."""
    notes = [
        "Avoidable is margin missed + waste + holding + fees; ran out counts days of a line.",
        f"{document['paths']:,} possible courses of the days ahead, seed {document['seed']}.",
    ]
    if first := first_morning(document):
        notes.append(first)
    for policy in document["policies"]:
        if left := _names(policy["without_par"]):
            notes.append(f"{policy['policy']} leaves out what has no par: {left}.")
    if unknown := _names(_without_margin(document)):
        notes.append(f"What running out costs is not known, and counts as nothing, of: {unknown}.")
    return notes


def first_morning(document: Mapping[str, Any]) -> str:
    """A replay begins with what was there: lines without stock run out until the first
    delivery, under every rule alike."""
    lines = {
        (one["location"], one["item"]): Decimal(one["opening_value"])
        for policy in document["policies"]
        for one in policy["lines"]
    }
    empty = sum(value == 0 for value in lines.values())
    if not empty:
        return ""
    return (
        f"On the first morning {empty} of {len(lines)} lines had no stock: until their first"
        " delivery they run out under every rule alike."
    )


def _without_margin(document: Mapping[str, Any]) -> list[Mapping[str, str]]:
    named = [one for policy in document["policies"] for one in policy["without_margin"]]
    return list({(one["location"], one["item"]): one for one in named}.values())


def _names(lines: Sequence[Mapping[str, str]]) -> str:
    named = [f"{one['item']} at {one['location']}" for one in lines[:NAMED]]
    more = [f"and {len(lines) - NAMED} more"] if len(lines) > NAMED else []
    return ", ".join([*named, *more])


def _wrapped(text: str) -> str:
    return "\n".join(textwrap.wrap(text, WIDTH))
