"""Order guides: who sells to us, and one supplier's calendar, closures, offers and prices."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Prefetch, Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.exchange.grammar import WEEKDAYS
from inventory.models import Item, Location
from inventory.problems import NotThere
from inventory.roles import Act, Viewer
from inventory.selectors.business import business
from inventory.selectors.item_facts import digest_of
from purchasing import words
from purchasing.models import Offer, Price, PriceBreak, Supplier, SupplierClosure
from purchasing.selectors.elsewhere import Calendars, calendars
from purchasing.selectors.guide_facts import offer_facts, supplier_facts

SHORT_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class GuideRow:
    code: str
    name: str
    offers: int
    calendar: str
    next_one: str
    is_retired: bool


@dataclass(frozen=True, slots=True)
class OfferRow:
    """``price`` in force and ``to_come`` are empty for those who may not see money. ``facts``
    and ``as_read`` fill the form."""

    pk: int
    item: str
    item_code: str
    sku: str
    pack: str
    steps: str
    rank: int
    price: str
    to_come: str
    breaks: str
    facts: Mapping[str, str]
    as_read: str


@dataclass(frozen=True, slots=True)
class GuidePage:
    supplier: Supplier
    currency: str
    calendar: str
    terms: str
    next_ones: tuple[str, ...]
    closures: tuple[tuple[str, str], ...]
    offers: tuple[OfferRow, ...]
    facts: Mapping[str, str]
    as_read: str
    days: tuple[tuple[str, str], ...]
    items: tuple[tuple[str, str], ...]
    may_change: bool
    sees_cost: bool


def guides(viewer: Viewer, now: datetime) -> tuple[GuideRow, ...]:
    """Every supplier, in a number of queries that does not grow."""
    counted = Count("offers", filter=Q(offers__retired_on__isnull=True))
    days, places = calendars(), _places(viewer)
    return tuple(
        GuideRow(
            code=row.code,
            name=row.name,
            offers=row.offer_count,
            calendar=calendar_words(row),
            next_one=next(iter(_next(row, days, places[:1], now, named=False)), ""),
            is_retired=row.retired_on is not None,
        )
        for row in Supplier.objects.annotate(offer_count=counted).order_by("name")
    )


def guide_page(viewer: Viewer, code: str, now: datetime) -> GuidePage:
    supplier = Supplier.objects.filter(code=code).first()
    if supplier is None:
        raise NotThere
    house, sees = business(), viewer.sees_cost()
    today = house.day_of(now)
    facts = supplier_facts(supplier)
    closed = SupplierClosure.objects.filter(supplier=supplier, date__gte=today)
    return GuidePage(
        supplier=supplier,
        currency=house.currency,
        calendar=calendar_words(supplier),
        terms=_terms(supplier) if sees else "",
        next_ones=tuple(_next(supplier, calendars(), _places(viewer), now, named=True)),
        closures=tuple((one.date.isoformat(), words.day_name(one.date)) for one in closed),
        offers=tuple(_offer(one, today, sees) for one in _offers(supplier)),
        facts=facts,
        as_read=digest_of(facts),
        days=tuple(zip(WEEKDAYS, SHORT_DAYS, strict=True)),
        items=tuple(Item.objects.filter(retired_on=None).values_list("code", "name")),
        may_change=viewer.may_everywhere(Act.SUPPLIERS),
        sees_cost=sees,
    )


def calendar_words(supplier: Supplier) -> str:
    """Orders Mon and Thu by 14:00; comes Tue and Fri about 06:30, 2 days after the order …"""
    said = {
        "orders": _days(supplier.order_days),
        "cutoff": f"{supplier.cutoff:%H:%M}",
        "comes": _days(supplier.delivery_days),
        "hour": f" {_('about')} {supplier.arrives:%H:%M}" if supplier.arrives else "",
        "lead": supplier.lead_days,
    }
    sentence = _("orders %(orders)s by %(cutoff)s; comes %(comes)s%(hour)s")
    if supplier.lead_days:
        sentence += ngettext(
            ", the day after the order at the earliest",
            ", %(lead)d days after the order at the earliest",
            supplier.lead_days,
        )
    return sentence % said


def _days(days: Iterable[int]) -> str:
    names = [SHORT_DAYS[day] for day in days]
    if len(names) == len(SHORT_DAYS):
        return str(_("every day"))
    return f"{', '.join(names[:-1])} {_('and')} {names[-1]}" if len(names) > 1 else "".join(names)


def _terms(supplier: Supplier) -> str:
    if not supplier.minimum_order:
        return str(_("no minimum"))
    said = {"minimum": words.money(supplier.minimum_order)}
    if supplier.below_minimum == Supplier.BelowMinimum.FEE:
        said["fee"] = words.money(supplier.delivery_fee or supplier.minimum_order * 0)
        return _("minimum order %(minimum)s, below it a fee of %(fee)s") % said
    return _("minimum order %(minimum)s; they refuse less") % said


def _places(viewer: Viewer) -> list[Location]:
    """That buy for themselves and that this person sees."""
    rows = Location.objects.filter(supplied_by=None, retired_on=None).exclude(kind="truck")
    return [row for row in rows.order_by("code") if viewer.may(Act.SEE, row.pk)]


def _next(
    supplier: Supplier, days: Calendars, places: list[Location], now: datetime, *, named: bool
) -> Iterable[str]:
    for place in places:
        slot = days.next_slot(supplier.code, place.code, now)
        if slot is None:
            continue
        said = {
            "day": words.day_name(slot.delivery),
            "by": f"{days.clock.local(slot.order_by):%a %H:%M}",
            "place": place.name,
        }
        sentence = _("%(day)s, order by %(by)s")
        yield (_("%(place)s: ") + sentence if named else sentence) % said


def _offers(supplier: Supplier) -> list[Offer]:
    prices = Prefetch("prices", queryset=Price.objects.order_by("starts_on"))
    breaks = Prefetch("breaks", queryset=PriceBreak.objects.order_by("from_cases"))
    rows = Offer.objects.filter(supplier=supplier, retired_on__isnull=True)
    rows = rows.select_related("item").prefetch_related(prices, breaks)
    return list(rows.order_by("item__name", "rank", "sku"))


def _offer(offer: Offer, today: date, sees: bool) -> OfferRow:
    prices = sorted(offer.prices.all(), key=lambda one: one.starts_on or date.min)
    in_force = [one for one in prices if one.starts_on is None or one.starts_on <= today]
    later = [one for one in prices if one not in in_force]
    shown = in_force[-1] if in_force else (later[0] if later else None)
    facts = offer_facts(offer, shown)
    return OfferRow(
        pk=offer.pk,
        item=offer.item.name,
        item_code=offer.item.code,
        sku=offer.sku,
        pack=_pack(offer),
        steps=_steps(offer),
        rank=offer.rank,
        price=_price(in_force[-1], offer) if in_force and sees else "",
        to_come="; ".join(_to_come(one, offer) for one in later) if sees else "",
        breaks="; ".join(_break(one) for one in offer.breaks.all()) if sees else "",
        facts=facts if sees else {**facts, "price": ""},
        as_read=digest_of(facts),
    )


def _pack(offer: Offer) -> str:
    pack = words.exactly(offer.pack_qty, offer.pack_unit)
    if offer.catch_weight:
        nominal = words.exactly(offer.nominal_qty or offer.pack_qty, offer.pack_unit)
        return _("about %(pack)s, weighed") % {"pack": nominal}
    return f"{pack} ({offer.pack_text})" if offer.pack_text else pack


def _steps(offer: Offer) -> str:
    said = []
    if offer.minimum_cases > 1:
        said.append(_("%(n)d or more") % {"n": offer.minimum_cases})
    if offer.case_multiple > 1:
        said.append(_("by %(n)d") % {"n": offer.case_multiple})
    return ", ".join(said)


def _price(price: Price, offer: Offer) -> str:
    return f"{words.money(price.price)}/{offer.priced_per}"


def _to_come(price: Price, offer: Offer) -> str:
    assert price.starts_on is not None
    day = words.day_name(price.starts_on)
    return _("%(price)s from %(day)s") % {"price": _price(price, offer), "day": day}


def _break(one: PriceBreak) -> str:
    said = {"price": words.money(one.price), "n": one.from_cases}
    return _("%(price)s from %(n)d cases on") % said
