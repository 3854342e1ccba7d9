"""Gaps of what is bought: orders, offers, suppliers, costs, pars."""

from __future__ import annotations

from collections import defaultdict

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from inventory.models import Location, Lot, OnHand, RecipeLine
from inventory.roles import Act
from inventory.selectors.seen import narrowed
from purchasing import words
from purchasing.models import Offer, Par, Price, PurchaseOrder, Supplier
from purchasing.selectors.gaps import Fix, Found, Gap, Kitchen, supplier_fix, workbook_fix


def late_drafts(kitchen: Kitchen) -> Found:
    """Drafts, and approved orders that never left, whose last chance has gone."""
    waiting = PurchaseOrder.objects.filter(status__in=["draft", "approved"], sent_at=None)
    gone = Q(last_order_by__lt=kitchen.now) | Q(last_order_by=None, order_by__lt=kitchen.now)
    coming = waiting.filter(gone, delivery__gte=kitchen.today)
    rows = narrowed(coming, kitchen.viewer, act=Act.SEND).select_related("supplier", "location")
    for order in rows.order_by("delivery", "number"):
        told = _("%(supplier)s, %(day)s to %(place)s: the cutoff has passed and it was not sent.")
        named = {
            "supplier": order.supplier.name,
            "day": words.day_name(order.delivery),
            "place": order.location.name,
        }
        yield Gap(told % named, Fix("order", (order.number,), _("see what can be done")))


def unpriced_offers(kitchen: Kitchen) -> Found:
    in_force = Price.objects.filter(
        Q(starts_on=None) | Q(starts_on__lte=kitchen.today), offer=OuterRef("pk")
    )
    on_sale = Offer.objects.filter(retired_on=None, supplier__retired_on=None)
    rows = on_sale.filter(~Exists(in_force), item__retired_on=None).select_related(
        "item", "supplier"
    )
    for offer in rows.order_by("item__name", "supplier__name"):
        told = _("%(item)s from %(supplier)s has no price in force today.") % {
            "item": offer.item.name,
            "supplier": offer.supplier.name,
        }
        yield Gap(told, supplier_fix(kitchen, offer.supplier.code, _("type the price")))


def nobody_sells(kitchen: Kitchen) -> Found:
    used = set(
        RecipeLine.objects.filter(recipe__item__retired_on=None)
        .order_by()
        .values_list("item_id", flat=True)
    )
    for item in kitchen.eaten:
        if item.pk in used and item.pk not in kitchen.on_sale and item.code not in kitchen.made:
            told = _("%(name)s goes into a recipe, but no supplier offers it and it is not made.")
            yield Gap(told % {"name": item.name}, workbook_fix(kitchen))


def _suppliers(kitchen: Kitchen) -> QuerySet[Supplier]:
    return Supplier.objects.filter(retired_on=None).order_by("name")


def suppliers_without_days(kitchen: Kitchen) -> Found:
    for row in _suppliers(kitchen):
        missing = [
            said
            for days, said in (
                (row.order_days, _("days on which it takes orders")),
                (row.delivery_days, _("days on which it delivers")),
            )
            if not days
        ]
        if missing:
            told = {"name": row.name, "missing": _(" and no ").join(missing)}
            fix = supplier_fix(kitchen, row.code, _("fill in the calendar"))
            yield Gap(_("%(name)s has no %(missing)s.") % told, fix)


def without_email(kitchen: Kitchen) -> Found:
    for row in _suppliers(kitchen).filter(email=""):
        told = (
            _("%(name)s has neither an e-mail address nor a telephone number.")
            if not row.phone
            else _("%(name)s has no e-mail address: its orders are read out by telephone.")
        )
        fix = supplier_fix(kitchen, row.code, _("type it"))
        yield Gap(told % {"name": row.name}, fix)


def lots_without_cost(kitchen: Kitchen) -> Found:
    if not kitchen.viewer.sees_cost():
        return
    there = narrowed(OnHand.objects.filter(lot=OuterRef("pk"), qty__gt=0), kitchen.viewer)
    lots = Lot.objects.filter(Exists(there), unit_cost=None).select_related("item")
    by_item: dict[tuple[str, str], list[str]] = defaultdict(list)
    for lot in lots.order_by("item__name", "strip"):
        by_item[lot.item.code, lot.item.name].append(lot.strip)
    for (code, name), strips in by_item.items():
        shown = ", ".join(strips[:5]) + (" …" if len(strips) > 5 else "")
        told = _("%(name)s: lots without a cost: %(strips)s.") % {"name": name, "strips": shown}
        yield Gap(told, Fix("item", (code,), _("see its offers")))


def without_par(kitchen: Kitchen) -> Found:
    """Per place that buys from suppliers and has pars at all: what it bought without one."""
    places = narrowed(Location.objects.filter(retired_on=None), kitchen.viewer, "pk")
    buying = {place.pk: place for place in places.filter(supplied_by=None)}
    have = set(Par.objects.order_by().values_list("location_id", "item_id"))
    used = {place for place, _item in have}
    names = {item.pk: item for item in kitchen.eaten}
    bought = (
        OnHand.objects.filter(location__in=buying, qty__gt=0, item__offers__retired_on=None)
        .order_by("item__name")
        .values_list("location_id", "item_id")
        .distinct()
    )
    for place, item_id in bought:
        item = names.get(item_id)
        if item is None or place not in used or (place, item_id) in have:
            continue
        if item_id not in kitchen.on_sale:
            continue
        told = {"name": item.name, "place": buying[place].name}
        may = kitchen.viewer.may(Act.PARS, place)
        fix = Fix("par", (buying[place].code, item.code), _("set one")) if may else None
        yield Gap(_("%(name)s has no par at %(place)s.") % told, fix)
