"""What is missing, as a sentence and one way to mend it; and what several checks rest on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q
from django.utils.translation import gettext as _

from inventory.models import Item, MenuEntry, Recipe
from inventory.roles import Act, Viewer
from inventory.selectors.measures import Measures, item_measures
from purchasing.models import Offer
from purchasing.selectors.supply import case_sizes


@dataclass(frozen=True, slots=True)
class Fix:
    """Where it is mended: name of an address and what it is about."""

    page: str
    about: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Gap:
    """``sentence`` says what is missing; ``fix`` is None where this person may not mend it."""

    sentence: str
    fix: Fix | None


@dataclass(frozen=True, slots=True)
class Kitchen:
    """Read once, asked by several checks."""

    viewer: Viewer
    now: datetime
    today: date
    eaten: tuple[Item, ...]  # not retired, not packaging, by name
    made: frozenset[str]
    on_sale: frozenset[int]  # items that a supplier offers
    on_menu: frozenset[int]  # items on a menu today or later
    measures: Measures


Found = Iterator[Gap]
Check = Callable[[Kitchen], Found]


def read_kitchen(viewer: Viewer, now: datetime, today: date) -> Kitchen:
    items = Item.objects.filter(retired_on=None).exclude(kind=Item.Kind.PACKAGING)
    sold = Offer.objects.filter(retired_on=None, supplier__retired_on=None)
    menu = MenuEntry.objects.filter(Q(last=None) | Q(last__gte=today), item__retired_on=None)
    return Kitchen(
        viewer=viewer,
        now=now,
        today=today,
        eaten=tuple(items.order_by("name", "code")),
        made=frozenset(Recipe.objects.values_list("item__code", flat=True)),
        on_sale=frozenset(sold.order_by().values_list("item_id", flat=True)),
        on_menu=frozenset(menu.order_by().values_list("item_id", flat=True)),
        measures=item_measures(case_sizes()),
    )


def item_fix(kitchen: Kitchen, code: str, told: str) -> Fix | None:
    may = kitchen.viewer.may_everywhere(Act.ITEMS)
    return Fix("item_change", (code,), told) if may else None


def supplier_fix(kitchen: Kitchen, code: str, told: str) -> Fix | None:
    return Fix("supplier", (code,), told) if kitchen.viewer.may(Act.SUPPLIERS) else None


def workbook_fix(kitchen: Kitchen) -> Fix | None:
    may = kitchen.viewer.may_everywhere(Act.WORKBOOK)
    return Fix("workbook", (), _("load it with a workbook")) if may else None
