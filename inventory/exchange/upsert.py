"""Bulk writing by natural key: new rows are created, rows that differ are changed, rows that
are the same are left alone, rows the workbook does not name are never touched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db import models

Model = TypeVar("Model", bound=models.Model)
ROWS_AT_ONCE = 2000
Key = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Tally:
    added: int = 0
    changed: int = 0
    same: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(self.added + other.added, self.changed + other.changed, self.same + other.same)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A row as the workbook has it; ``facts`` holds only the columns that the file gives."""

    key: Key
    facts: Mapping[str, Any]


def upsert(
    model: type[Model],
    key_fields: tuple[str, ...],
    wanted: Iterable[Wanted],
    stored: models.QuerySet[Model] | None = None,
) -> Tally:
    """Write ``wanted``; ``key_fields`` are attribute names (``item_id``), ``stored`` the rows
    among which they are looked for. Two reads and writes in batches: no query per row."""
    rows = model._default_manager.all() if stored is None else stored
    present = {
        tuple(getattr(row, field) for field in key_fields): row
        for row in rows.order_by().iterator(chunk_size=ROWS_AT_ONCE)
    }
    new: list[Model] = []
    changed: dict[int, Model] = {}
    fields: set[str] = set()
    same = 0
    for want in wanted:
        row = present.get(want.key)
        if row is None:
            made = model(**dict(zip(key_fields, want.key, strict=True)), **want.facts)
            present[want.key] = made
            new.append(made)
        elif differing := _assign(row, want.facts):
            changed[row.pk] = row
            fields |= differing
        else:
            same += 1
    manager = model._default_manager
    manager.bulk_create(new, batch_size=ROWS_AT_ONCE)
    if changed:
        manager.bulk_update(changed.values(), sorted(fields), batch_size=ROWS_AT_ONCE)
    return Tally(len(new), len(changed), same)


def _assign(row: models.Model, facts: Mapping[str, Any]) -> set[str]:
    differing = {name for name, value in facts.items() if getattr(row, name) != value}
    for name in differing:
        setattr(row, name, facts[name])
    return differing
