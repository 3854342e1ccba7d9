"""What is said of the allergens of items and of lots."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from inventory.engine.allergens import LISTS, Card, Stated, Word, allergen_card
from inventory.models import AllergenWord, BatchInput, Item, Lot, RecipeLine
from inventory.selectors.business import business


@dataclass(frozen=True, slots=True)
class AllergenBook:
    """What is stated of every item, and what goes into what; read once, asked for any."""

    listed: tuple[str, ...]
    names: Mapping[str, str]
    stated: Mapping[str, Stated]
    made_of: Mapping[str, tuple[str, ...]]

    def of(self, item: str) -> Card:
        return allergen_card(item, self.stated, self.made_of, self.listed)

    def of_lot(self, lot: Lot, inputs: Mapping[int, tuple[Lot, ...]]) -> Card:
        """Over what really went in and over the recipe beside it: a swap adds its own words.
        ``inputs``: as ``went_in`` finds them."""
        made_of = {**self.made_of, **_lots_as_foods(lot, inputs)}
        return allergen_card(_key(lot), self.stated, made_of, self.listed)


def allergen_book() -> AllergenBook:
    """Four queries. Packaging is not food: it has no say in what a dish contains."""
    stated: dict[str, dict[str, Word]] = defaultdict(dict)
    for item, allergen, says in AllergenWord.objects.values_list(
        "item__code", "allergen", "says"
    ).order_by("pk"):
        stated[item][allergen] = Word(says)
    made_of: dict[str, list[str]] = defaultdict(list)
    lines = RecipeLine.objects.exclude(item__kind=Item.Kind.PACKAGING)
    for made, item in lines.values_list("recipe__item__code", "item__code").order_by(
        "recipe_id", "position"
    ):
        made_of[made].append(item)
    return AllergenBook(
        listed=LISTS[business().allergen_list],
        names=dict(Item.objects.values_list("code", "name")),
        stated=dict(stated),
        made_of={made: tuple(items) for made, items in made_of.items()},
    )


def item_allergens(codes: Collection[str]) -> dict[str, Card]:
    """Cards of items, made or bought, by code."""
    book = allergen_book()
    return {code: book.of(code) for code in codes}


def lot_allergens(lots: Collection[Lot]) -> dict[str, Card]:
    """Cards of lots (with their items), by strip number."""
    book, inputs = allergen_book(), went_in(lots)
    return {lot.strip: book.of_lot(lot, inputs) for lot in lots}


def went_in(lots: Iterable[Lot]) -> dict[int, tuple[Lot, ...]]:
    """By lot: the lots that went into its batch, or the lot it is a part of; to any depth.
    Two queries per level."""
    found: dict[int, tuple[Lot, ...]] = {}
    level = {lot.pk: lot for lot in lots}
    while level:
        ahead: dict[int, list[Lot]] = defaultdict(list)
        inputs = BatchInput.objects.filter(batch__lot__in=level).order_by("pk")
        for row in inputs.select_related("batch", "lot__item"):
            assert row.batch.lot_id is not None
            ahead[row.batch.lot_id].append(row.lot)
        parts = Lot.objects.filter(pk__in=level, parent__isnull=False)
        for part in parts.select_related("parent__item"):
            assert part.parent is not None
            ahead[part.pk].append(part.parent)
        found |= {pk: tuple(ahead.get(pk, ())) for pk in level}
        nearer = {lot.pk: lot for before in ahead.values() for lot in before}
        level = {pk: lot for pk, lot in nearer.items() if pk not in found}
    return found


def _lots_as_foods(lot: Lot, inputs: Mapping[int, tuple[Lot, ...]]) -> dict[str, tuple[str, ...]]:
    lots = {lot.pk: lot, **{one.pk: one for before in inputs.values() for one in before}}
    return {
        _key(one): (*(_key(before) for before in inputs.get(pk, ())), one.item.code)
        for pk, one in lots.items()
    }


def _key(lot: Lot) -> str:
    """Not to be mistaken for the code of an item, which has no stroke."""
    return f"lot/{lot.strip}"


def sentence(card: Card) -> str:
    """For a label: ``contains wheat, milk; may contain sesame; not stated: fish``."""
    said = {word: [one.allergen for one in card if one.word is word] for word in Word}
    parts = []
    if names := said[Word.CONTAINS]:
        parts.append(_("contains %(names)s") % {"names": ", ".join(names)})
    if names := said[Word.MAY_CONTAIN]:
        parts.append(_("may contain %(names)s") % {"names": ", ".join(names)})
    if names := said[Word.NOT_STATED]:
        parts.append(_not_stated(card, names))
    return "; ".join(parts) or _("stated free from all %(count)s") % {"count": len(card)}


def _not_stated(card: Card, names: list[str]) -> str:
    if len(names) == len(card):
        return _("allergens not stated: ask before serving")
    return _("not stated: %(names)s") % {"names": ", ".join(names)}
