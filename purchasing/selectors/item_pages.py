"""One item: everything that is known of it, and what its form is filled with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.engine.allergens import LISTS, Word
from inventory.engine.units import as_decimal, convert
from inventory.models import Hold, Inbound, Item, OnHand, Recipe, RecipeLine
from inventory.roles import Act, Viewer
from inventory.selectors import allergens
from inventory.selectors.business import business
from inventory.selectors.house_units import thinks_in_pounds
from inventory.selectors.item_facts import digest_of, item_facts
from inventory.selectors.item_uses import UnitUse, joined
from inventory.selectors.measures import Measures, item_measures
from inventory.selectors.seen import items, narrowed, only
from purchasing import words
from purchasing.models import Offer, Par, Price
from purchasing.selectors.item_uses import unit_uses
from purchasing.selectors.par_words import par_sentence
from purchasing.selectors.supply import case_sizes


@dataclass(frozen=True, slots=True)
class Says:
    """An allergen, or several with a comma, and on whose account."""

    allergen: str
    because: str


@dataclass(frozen=True, slots=True)
class AllergenLines:
    contains: tuple[Says, ...]
    may: tuple[Says, ...]
    not_stated: tuple[Says, ...]
    free: tuple[Says, ...]
    is_made: bool


@dataclass(frozen=True, slots=True)
class OfferLine:
    supplier: str
    supplier_code: str
    rank: str
    pack: str
    sku: str
    price: str
    since: str


@dataclass(frozen=True, slots=True)
class LotLine:
    strip: str
    place: str
    there: str
    use_by: str
    left: str
    note: str


@dataclass(frozen=True, slots=True)
class ItemPage:
    code: str
    name: str
    head: str
    retired: str
    units: tuple[str, ...]
    lives: tuple[str, ...]
    flags: tuple[str, ...]
    allergens: AllergenLines
    sees_cost: bool
    currency: str
    offers: tuple[OfferLine, ...]
    pars: tuple[tuple[str, str, str], ...]  # place's code and name, what is set
    lots: tuple[LotLine, ...]
    coming: tuple[str, ...]
    made: str
    used_in: tuple[tuple[str, str, str], ...]  # code, name, how much
    may_change: bool
    sees_guides: bool


@dataclass(frozen=True, slots=True)
class ItemFormFacts:
    """What the form of an item is filled with. ``uses``: by unit, what rests on it."""

    item: Item
    as_read: str
    listed: tuple[str, ...]
    uses: dict[str, str]


def item_page(code: str, viewer: Viewer, now: datetime) -> ItemPage:
    """Everything, in a number of queries that does not grow with rows."""
    item = only(items(viewer).prefetch_related(None), code=code)
    house, sees_cost = business(), viewer.sees_cost()
    measures = item_measures(case_sizes())
    today = house.day_of(now)
    kept = _(item.get_storage_display()) if item.storage else ""
    return ItemPage(
        code=item.code,
        name=item.name,
        head=", ".join(word for word in (_(item.get_kind_display()), kept) if word),
        retired=item.retired_on.isoformat() if item.retired_on else "",
        units=tuple(_units(item, unit_uses(item), pounds=thinks_in_pounds(house))),
        lives=tuple(_lives(item)),
        flags=tuple(_flags(item)),
        allergens=_allergen_lines(item),
        sees_cost=sees_cost,
        currency=house.currency,
        offers=tuple(_offers(item, today, sees_cost)),
        pars=tuple(_pars(item, viewer)),
        lots=tuple(_lots(item, viewer, today, measures)),
        coming=tuple(_coming(item, viewer, today, measures)),
        made=_made(item),
        used_in=tuple(_used_in(item)),
        may_change=viewer.may_everywhere(Act.ITEMS),
        sees_guides=viewer.may(Act.SUPPLIERS),
    )


def item_form(code: str, viewer: Viewer) -> ItemFormFacts:
    item = only(items(viewer), code=code)
    uses: dict[str, list[str]] = {}
    for use in unit_uses(item):
        uses.setdefault(use.unit, []).append(use.words)
    return ItemFormFacts(
        item=item,
        as_read=digest_of(item_facts(item)),
        listed=listed_allergens(),
        uses={unit: joined(rows) for unit, rows in uses.items()},
    )


def listed_allergens() -> tuple[str, ...]:
    """Names on the list of the house."""
    return LISTS[business().allergen_list]


def _units(item: Item, uses: list[UnitUse], *, pounds: bool) -> Iterator[str]:
    """``pounds``: sizes are told in ounces."""
    yield _("read in %(unit)s") % {"unit": item.unit}
    if item.grams_per_each:
        yield _("one piece weighs %(size)s") % {"size": _size(item.grams_per_each, pounds)}
    if item.grams_per_ml:
        ounce = as_decimal(convert(item.grams_per_ml, "floz", "ml"))  # g in as many ml
        of, size = ("floz", ounce) if pounds else ("ml", item.grams_per_ml)
        yield _("1 %(unit)s weighs %(size)s") % {"unit": of, "size": _size(size, pounds)}
    for row in item.units.order_by("word"):
        rows = [use.words for use in uses if use.unit == row.word]
        told = {"word": row.word, "size": words.exactly(row.qty, row.of_unit)}
        line = _("1 %(word)s is %(size)s") % told
        yield f"{line} ({joined(rows)})" if rows else line


def _size(grams: Decimal, pounds: bool) -> str:
    if not pounds:
        return words.exactly(grams, "g")
    return words.quantity(as_decimal(convert(grams, "g", "oz")), "oz")


def days_kept(life: int | None) -> str:
    if life is None:
        return ""
    return _("that day only") if life == 0 else ngettext("%d day", "%d days", life) % life


def _lives(item: Item) -> Iterator[str]:
    for life, sentence in (
        (item.shelf_life_days, _("%(days)s as received or made")),
        (item.shelf_life_opened_days, _("%(days)s once opened")),
        (item.shelf_life_thawed_days, _("%(days)s once thawed")),
    ):
        if life is not None:
            yield sentence % {"days": days_kept(life)}
    if item.thaw_hours:
        yield _("thaws in %(hours)s h") % {"hours": words.figure(item.thaw_hours)}


def _flags(item: Item) -> Iterator[str]:
    for is_so, sentence in (
        (item.tcs, _("needs time and temperature control")),
        (item.ready_to_eat, _("ready to eat")),
        (item.traceability_listed, _("on the traceability list")),
        (item.may_freeze, _("may be frozen")),
        (item.can_be_left_off, _("a dish can go without it")),
    ):
        if is_so:
            yield sentence
    returned = {
        "keep": _("kept when it comes back"),
        "keep_if_cold": _("kept when it comes back, if cold"),
        "discard": _("thrown away when it comes back"),
    }
    if item.on_return:
        yield returned[item.on_return]


def _allergen_lines(item: Item) -> AllergenLines:
    book = allergens.allergen_book()
    card = book.of(item.code)

    def said(word: Word) -> tuple[Says, ...]:
        return tuple(
            Says(one.allergen, _because(one.because, item, book.names))
            for one in card
            if one.word is word
        )

    return AllergenLines(
        contains=said(Word.CONTAINS),
        may=said(Word.MAY_CONTAIN),
        not_stated=_grouped(said(Word.NOT_STATED)),
        free=said(Word.FREE),
        is_made=item.code in book.made_of,
    )


def _grouped(said: tuple[Says, ...]) -> tuple[Says, ...]:
    """Allergens on the same account as one."""
    names: dict[str, list[str]] = {}
    for one in said:
        names.setdefault(one.because, []).append(one.allergen)
    return tuple(Says(", ".join(group), because) for because, group in names.items())


def _because(codes: tuple[str, ...], item: Item, names: Mapping[str, str]) -> str:
    others = [names.get(code, code) for code in codes if code != item.code]
    shown, more = others[:3], len(others) - 3
    text = ", ".join(shown)
    if more > 0:
        text += _(" and %(count)d more") % {"count": more}
    return text


def _offers(item: Item, today: date, sees_cost: bool) -> Iterator[OfferLine]:
    offers = Offer.objects.filter(item=item, retired_on=None).select_related("supplier")
    offers = offers.order_by("rank", "supplier__name", "sku")
    prices: dict[int, Price] = {}
    started = Q(starts_on=None) | Q(starts_on__lte=today)
    for price in Price.objects.filter(started, offer__item=item).order_by("starts_on"):
        known = prices.get(price.offer_id)
        if known is None or _starts(price) > _starts(known):
            prices[price.offer_id] = price
    for offer in offers:
        yield _offer(offer, prices.get(offer.pk), sees_cost)


def _starts(price: Price) -> date:
    return price.starts_on or date.min


def _offer(offer: Offer, price: Price | None, sees_cost: bool) -> OfferLine:
    told = _("no price in force") if price is None else ""
    since = ""
    if price is not None and sees_cost:
        told = f"{words.money(price.price)}/{offer.priced_per}"
        since = words.day_name(price.starts_on) if price.starts_on else ""
    return OfferLine(
        supplier=offer.supplier.name,
        supplier_code=offer.supplier.code,
        rank=_("first choice") if offer.rank == 1 else _("choice %(n)d") % {"n": offer.rank},
        pack=words.exactly(offer.pack_qty, offer.pack_unit),
        sku=offer.sku,
        price=told,
        since=since,
    )


def _pars(item: Item, viewer: Viewer) -> Iterator[tuple[str, str, str]]:
    rows = narrowed(Par.objects.filter(item=item), viewer).select_related("location", "item")
    by_place: dict[tuple[str, str], list[Par]] = {}
    for row in rows.order_by("location__name", "weekday"):
        by_place.setdefault((row.location.code, row.location.name), []).append(row)
    for (code, name), pars in by_place.items():
        yield code, name, par_sentence(pars)


def _lots(item: Item, viewer: Viewer, today: date, measures: Measures) -> Iterator[LotLine]:
    rows = narrowed(OnHand.objects.filter(item=item, qty__gt=0), viewer)
    rows = rows.select_related("lot", "location")
    held = set(
        Hold.objects.still_open().filter(lot__item=item).values_list("lot_id", "location_id")
    )
    never = date.max
    for row in sorted(rows, key=lambda one: (one.location.name, one.lot.use_by or never)):
        lot = row.lot
        is_held = bool({(lot.pk, None), (lot.pk, row.location_id)} & held)
        left = (lot.use_by - today).days if lot.use_by else None
        qty = measures.in_own_unit(item.code, row.qty)
        yield LotLine(
            strip=lot.strip,
            place=row.location.name,
            there=words.quantity(qty, item.unit),
            use_by=words.day_name(lot.use_by) if lot.use_by else _("does not expire"),
            left="" if left is None else words.days_left(left),
            note=_("on hold") if is_held else "",
        )


def _coming(item: Item, viewer: Viewer, today: date, measures: Measures) -> Iterator[str]:
    for row in narrowed(Inbound.objects.filter(item=item), viewer).select_related("location"):
        told = {
            "qty": words.quantity(measures.in_own_unit(item.code, row.qty), item.unit),
            "place": row.location.name,
            "day": words.day_name(row.due),
            "source": row.source,
        }
        if row.due < today:
            yield _("%(qty)s to %(place)s, was due %(day)s: %(source)s") % told
        else:
            yield _("%(qty)s to %(place)s, %(day)s: %(source)s") % told


def _made(item: Item) -> str:
    recipe = Recipe.objects.filter(item=item).first()
    return words.exactly(recipe.makes_qty, recipe.makes_unit) if recipe else ""


def _used_in(item: Item) -> Iterator[tuple[str, str, str]]:
    lines = RecipeLine.objects.filter(item=item, recipe__item__retired_on=None)
    for line in lines.select_related("recipe__item").order_by("recipe__item__name"):
        made = line.recipe.item
        makes = words.exactly(line.recipe.makes_qty, line.recipe.makes_unit)
        told = {"qty": words.exactly(line.qty, line.unit), "makes": makes}
        yield made.code, made.name, _("%(qty)s for %(makes)s") % told
