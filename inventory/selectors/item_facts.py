"""What is known of one item, as words: for the log, and to notice that a form is stale."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import date, time
from decimal import Decimal
from typing import Any

from inventory.models import AllergenWord, Item, ItemUnit

_NOT_A_FACT = frozenset({"id"})


def item_facts(item: Item) -> dict[str, str]:
    """Every fact by name, blank ones left out. Two queries."""
    own = {
        field.attname: as_word(getattr(item, field.attname))
        for field in item._meta.concrete_fields
        if field.attname not in _NOT_A_FACT
    }
    words = AllergenWord.objects.filter(item=item).order_by("allergen")
    stated = {f"allergen {word.allergen}": word.says for word in words}
    units = ItemUnit.objects.filter(item=item).order_by("word")
    sizes = {f"unit {row.word}": f"{as_word(row.qty)} {row.of_unit}" for row in units}
    return {name: said for name, said in (own | stated | sizes).items() if said}


def digest_of(facts: Mapping[str, str]) -> str:
    return hashlib.sha256(repr(sorted(facts.items())).encode()).hexdigest()[:20]


def changes_between(old: Mapping[str, str], new: Mapping[str, str]) -> dict[str, list[str]]:
    """Name of the fact: what it was, what it is."""
    names = sorted(old.keys() | new.keys())
    pairs = {name: [old.get(name, ""), new.get(name, "")] for name in names}
    return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}


def as_word(value: Any) -> str:
    """A fact as a person types it; nothing for no."""
    if value is None or value is False:  # not 0, which is a figure
        return ""
    match value:
        case True:
            return "yes"
        case Decimal():
            return f"{value.normalize():f}"
        case time():
            return f"{value:%H:%M}"
        case date():
            return value.isoformat()
    return str(value)
