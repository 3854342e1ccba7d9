"""Bulk writing by natural key: new rows are created, rows that differ are changed, rows that
are the same are left alone, rows the workbook does not name are never touched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any, TypeVar

from django.db import models

Model = TypeVar("Model", bound=models.Model)
ROWS_AT_ONCE = 2000
CHANGED_AT_ONCE = 200  # an update of many rows spells out a case for each
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
    """Write ``wanted``, each key once; names are attribute names (``item_id``), ``stored`` the
    rows among which they are looked for. One read and writes in batches: no query per row,
    and no more than a batch stands in memory as rows of the table."""
    names = [field.attname for field in model._meta.concrete_fields]
    present = _present(model._default_manager.all() if stored is None else stored, key_fields)
    tally = Tally()
    left = iter(wanted)
    while batch := list(islice(left, ROWS_AT_ONCE)):
        new: list[Model] = []
        changed: list[Model] = []
        fields: set[str] = set()
        for want in batch:
            if (row := present.get(want.key)) is None:
                new.append(model(**dict(zip(key_fields, want.key, strict=True)), **want.facts))
            elif differing := _differing(dict(zip(names, row, strict=True)), want.facts):
                changed.append(model(**dict(zip(names, row, strict=True)) | dict(want.facts)))
                fields |= differing
        model._default_manager.bulk_create(new)
        if changed:
            model._default_manager.bulk_update(changed, sorted(fields), batch_size=CHANGED_AT_ONCE)
        tally += Tally(len(new), len(changed), len(batch) - len(new) - len(changed))
    return tally


def _present(rows: models.QuerySet[Model], key_fields: tuple[str, ...]) -> dict[Key, Key]:
    """Stored rows, as the values of all their columns, by key."""
    names = [field.attname for field in rows.model._meta.concrete_fields]
    places = [names.index(field) for field in key_fields]
    return {
        tuple([row[place] for place in places]): row
        for row in rows.order_by().values_list(*names).iterator(chunk_size=ROWS_AT_ONCE)
    }


def _differing(row: Mapping[str, Any], facts: Mapping[str, Any]) -> set[str]:
    return {name for name, value in facts.items() if row[name] != value}
