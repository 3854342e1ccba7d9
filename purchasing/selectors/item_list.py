"""The list of items: what is bought, made and sold, and what nobody has stated of allergens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _

from inventory.engine.allergens import Card, Word
from inventory.models import Item
from inventory.roles import Act, Viewer
from inventory.selectors import allergens
from inventory.selectors.seen import items
from purchasing.selectors.item_pages import days_kept

MOST_ROWS = 300
LONG = 30  # rows from which a list is folded by what they are (own choice)


@dataclass(frozen=True, slots=True)
class ItemRow:
    code: str
    name: str
    kind: str
    unit: str
    kept: str
    life: str
    allergens: str
    is_silent: bool  # something of the list is not stated
    retired: str


@dataclass(frozen=True, slots=True)
class ItemGroup:
    """What is bought, made or sold. ``silent``: how many of them lack a word on an allergen."""

    name: str
    head: str
    rows: tuple[ItemRow, ...]

    @property
    def silent(self) -> int:
        return sum(row.is_silent for row in self.rows)


@dataclass(frozen=True, slots=True)
class ItemsPage:
    """``is_long``: groups stand folded under their heads, and what is unsafe stands above."""

    asked: str
    groups: tuple[ItemGroup, ...]
    silent: tuple[ItemRow, ...]
    is_long: bool
    more: int
    may_add: bool


def items_page(asked: str, viewer: Viewer) -> ItemsPage:
    """Seven queries. ``asked``: part of a name or code; retired items come only by search."""
    rows = items(viewer).prefetch_related(None).order_by("name", "code")
    asked = asked.strip()
    if asked:
        rows = rows.filter(Q(name__icontains=asked) | Q(code__icontains=asked))
    else:
        rows = rows.filter(retired_on=None)
    found = list(rows[: MOST_ROWS + 1])
    more = rows.count() - MOST_ROWS if len(found) > MOST_ROWS else 0
    book = allergens.allergen_book()
    shown = [(row.kind, _item_row(row, book.of(row.code))) for row in found[:MOST_ROWS]]
    is_long = not asked and len(shown) > LONG
    return ItemsPage(
        asked=asked,
        groups=tuple(_item_groups(shown)),
        silent=tuple(row for _kind, row in shown if row.is_silent) if is_long else (),
        is_long=is_long,
        more=more,
        may_add=viewer.may_everywhere(Act.ITEMS),
    )


def _item_groups(rows: Sequence[tuple[str, ItemRow]]) -> Iterator[ItemGroup]:
    kinds = Item.Kind
    for name, head, held in (
        ("buy", _("What we buy"), (kinds.INGREDIENT, kinds.PACKAGING)),
        ("make", _("What we make"), (kinds.PREP,)),
        ("sell", _("What we sell"), (kinds.MENU, kinds.RESALE)),
    ):
        mine = tuple(row for kind, row in rows if kind in held)
        if mine:
            yield ItemGroup(name, head, mine)


def _item_row(item: Item, card: Card) -> ItemRow:
    eaten = item.kind != Item.Kind.PACKAGING
    return ItemRow(
        code=item.code,
        name=item.name,
        kind=_(item.get_kind_display()),
        unit=item.unit,
        kept=_(item.get_storage_display()) if item.storage else "",
        life=days_kept(item.shelf_life_days),
        allergens=allergens.sentence(card) if eaten else "",
        is_silent=eaten and any(said.word is Word.NOT_STATED for said in card),
        retired=item.retired_on.isoformat() if item.retired_on else "",
    )
