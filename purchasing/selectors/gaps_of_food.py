"""Gaps of items: allergens, lives, recipes, units."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from inventory.engine.allergens import Word
from inventory.models import Item, RecipeLine
from inventory.problems import Refused
from inventory.selectors.allergens import allergen_book
from inventory.selectors.measures import Measures
from purchasing.models import Offer, Par
from purchasing.selectors.gaps import Found, Gap, Kitchen, item_fix, workbook_fix


def silent_allergens(kitchen: Kitchen) -> Found:
    """Of what is bought; what is made speaks for its lines. Those in most dishes come first."""
    book = allergen_book()
    dishes: dict[str, int] = defaultdict(int)
    for item in kitchen.eaten:
        if item.pk in kitchen.on_menu:
            for food in _all_that_goes_into(item.code, book.made_of):
                dishes[food] += 1
    silent: list[tuple[int, Item, list[str]]] = []
    for item in kitchen.eaten:
        if item.code in book.made_of:
            continue
        unsaid = [said.allergen for said in book.of(item.code) if said.word is Word.NOT_STATED]
        if unsaid:
            silent.append((dishes[item.code], item, unsaid))
    for count, item, unsaid in sorted(silent, key=lambda one: (-one[0], one[1].name)):
        yield Gap(
            _silence(item.name, unsaid, len(book.listed), count),
            item_fix(kitchen, item.code, _("state them")),
        )


def _silence(name: str, unsaid: list[str], listed: int, dishes: int) -> str:
    what = _("any allergen") if len(unsaid) >= listed else ", ".join(unsaid)
    told = {"name": name, "what": what, "dishes": dishes}
    if dishes == 1:
        return _("%(name)s: nobody has said about %(what)s, and it is in 1 dish on a menu.") % told
    if dishes:
        return (
            _("%(name)s: nobody has said about %(what)s, and it is in %(dishes)d dishes on a menu.")
            % told
        )
    return _("%(name)s: nobody has said about %(what)s.") % told


def _all_that_goes_into(code: str, made_of: Mapping[str, tuple[str, ...]]) -> set[str]:
    seen, waiting = set[str](), [code]
    while waiting:
        food = waiting.pop()
        if food not in seen:
            seen.add(food)
            waiting.extend(made_of.get(food, ()))
    return seen


_COLD = (Item.Storage.CHILLED, Item.Storage.FROZEN)


def _has_no_life(item: Item) -> bool:
    """Dishes that are finished for the guest have none; one that is kept cold waits for guests."""
    is_served_at_once = item.kind == Item.Kind.MENU and item.storage not in _COLD
    return item.shelf_life_days is None and not is_served_at_once


def cold_without_life(kitchen: Kitchen) -> Found:
    for item in kitchen.eaten:
        if item.tcs and _has_no_life(item):
            told = _("%(name)s must be kept hot or cold and has no life: its lots never expire.")
            fix = item_fix(kitchen, item.code, _("say how long it keeps"))
            yield Gap(told % {"name": item.name}, fix)


def without_life(kitchen: Kitchen) -> Found:
    """Of what is kept cold or frozen; dry goods may well keep for ever."""
    for item in kitchen.eaten:
        if item.storage in _COLD and not item.tcs and _has_no_life(item):
            told = _("%(name)s is kept %(kept)s and has no life.") % {
                "name": item.name,
                "kept": _(item.get_storage_display()),
            }
            yield Gap(told, item_fix(kitchen, item.code, _("say how long it keeps")))


def sold_without_recipe(kitchen: Kitchen) -> Found:
    for item in kitchen.eaten:
        sold_as_it_is = item.kind == Item.Kind.RESALE or item.pk in kitchen.on_sale
        if item.pk in kitchen.on_menu and item.code not in kitchen.made and not sold_as_it_is:
            told = _("%(name)s is on a menu and has no recipe.") % {"name": item.name}
            yield Gap(told, workbook_fix(kitchen))


def made_without_recipe(kitchen: Kitchen) -> Found:
    for item in kitchen.eaten:
        made_here = item.kind in (Item.Kind.PREP, Item.Kind.MENU) and item.pk not in kitchen.on_sale
        if made_here and item.code not in kitchen.made and item.pk not in kitchen.on_menu:
            told = _("%(name)s is made here and has no recipe.") % {"name": item.name}
            yield Gap(told, workbook_fix(kitchen))


def unit_gaps(kitchen: Kitchen) -> Found:
    """Rows in a unit that cannot be turned into the item's own, each pair once."""
    rows: list[tuple[QuerySet[RecipeLine] | QuerySet[Par] | QuerySet[Offer], str, str]] = [
        (RecipeLine.objects.all(), "unit", _("a recipe")),
        (Par.objects.exclude(unit=""), "unit", _("a par")),
        (Offer.objects.filter(retired_on=None), "pack_unit", _("an offer")),
    ]
    told: set[tuple[str, str]] = set()
    for queryset, column, where in rows:
        pairs = queryset.order_by("item__name").values_list("item__code", "item__name", column)
        for code, name, unit in pairs.distinct():
            if (code, unit) in told or _leads_on(kitchen.measures, code, unit):
                continue
            told.add((code, unit))
            sentence = _("%(name)s: %(where)s is written in “%(unit)s”, which has no size for it.")
            named = {"name": name, "where": where, "unit": unit}
            yield Gap(sentence % named, item_fix(kitchen, code, _("give it one")))


def _leads_on(measures: Measures, code: str, unit: str) -> bool:
    try:
        measures.base_per(code, unit)
    except Refused:
        return False
    return True
