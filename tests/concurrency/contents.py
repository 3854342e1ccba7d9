"""What a database says, whatever numbers its rows have and whenever they were written.

A row is named by its place in its table: an act that was broken off leaves gaps in the keys.
"""

from __future__ import annotations

import json
import sys
from io import StringIO
from typing import Any

from django.apps import apps
from django.core.management import call_command
from django.db import models

from purchasing.selectors.invariants import check_all

# It holds the number of a row.
_NUMBERED = {"source_key"}


def write(words: list[str]) -> None:
    """Check the ledger, run the command if there is one, check again; write its output, the
    invariants broken and all rows as one JSON document."""
    broken = _broken()
    out = StringIO()
    if words:
        call_command(*words, stdout=out)
    broken += _broken()
    sys.stdout.write(json.dumps({"out": out.getvalue(), "broken": broken, "rows": _tables()}))


def _broken() -> list[str]:
    return [finding.code for finding in check_all() if finding.rows]


def _tables() -> dict[str, list[dict[str, str]]]:
    kinds = [kind for app in ("inventory", "purchasing") for kind in _models(app)]
    places = {kind: {row.pk: n for n, row in enumerate(_all(kind))} for kind in kinds}
    return {kind._meta.label: [_facts(row, places) for row in _all(kind)] for kind in kinds}


def _models(app: str) -> list[Any]:
    return list(apps.get_app_config(app).get_models())


def _facts(row: Any, places: dict[Any, dict[Any, int]]) -> dict[str, str]:
    return {
        field.name: _told(getattr(row, field.attname), places.get(field.related_model))
        for field in row._meta.concrete_fields
        if not field.primary_key
        and not isinstance(field, models.DateTimeField)
        and field.name not in _NUMBERED
    }


def _told(value: object, places: dict[Any, int] | None) -> str:
    return str(value if places is None or value is None else places[value])


def _all(kind: Any) -> Any:
    return kind._default_manager.order_by("pk")
