"""What follows from cases that a person tries out, and from cases that do not come."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from inventory.engine.recipes import leading_to
from inventory.models import Item, Location
from inventory.selectors.measures import Measures
from purchasing import words
from purchasing.engine.levels import PlannedLoad
from purchasing.engine.slots import DAYS_ASSUMED
from purchasing.models import OrderLine, PurchaseOrder
from purchasing.selectors.elsewhere import Elsewhere, calendars, per_unit, who_else
from purchasing.selectors.on_order import open_cases
from purchasing.selectors.picture_svg import WORTH_DRAWING, Picture, picture_of
from purchasing.selectors.what_if import Ahead, LookAhead, look_ahead


@dataclass(frozen=True, slots=True)
class Follows:
    """Of one line with the cases tried out; ``money`` is empty for those who may not see it.
    ``others``: who else sells the item."""

    chance: str
    waste: str
    runs_out: str
    money: str
    picture: Picture
    others: tuple[Elsewhere, ...]


@dataclass(frozen=True, slots=True)
class Tried:
    """What follows, by line; ``total`` of the order with the cases tried out."""

    lines: dict[int, Follows]
    total: str

    @property
    def others(self) -> list[Elsewhere]:
        return [one for follows in self.lines.values() for one in follows.others]


@dataclass(frozen=True, slots=True)
class Missed:
    """What a line that does not come in full means. ``stops``: the truck services that are fed
    from it while it is short, in words; ``until`` when: R2 assumes a day where none is known."""

    item: str
    told: str
    until: str
    stops: tuple[str, ...]
    others: tuple[Elsewhere, ...]


def try_cases(
    order: PurchaseOrder, cases: dict[int, int], shown: set[int], *, sees: bool, as_of: datetime
) -> Tried | None:
    """``cases`` by line id; ``shown``: the lines to work out. None where that is too late."""
    lines = list(order.lines.all())
    wanted = [(line, cases.get(line.pk, line.cases)) for line in lines if line.pk in shown]
    seen = look_ahead(order, wanted, as_of=as_of) if wanted else None
    if seen is None:
        return None
    total = sum(
        (cases.get(one.pk, one.cases) * one.price * one.priced_units for one in lines), Decimal(0)
    )
    others = who_else(order, {one.item_id: n * one.pack_base for one, n in wanted}, at=as_of)
    found = {
        line.pk: _follows(
            line,
            seen.lines[line.pk],
            seen,
            [one for one in others if one.offer.item_id == line.item_id],
            sees,
        )
        for line, _cases in wanted
    }
    return Tried(found, words.money(total) if sees else "")


def _follows(
    line: OrderLine, ahead: Ahead, seen: LookAhead, others: Sequence[Elsewhere], sees: bool
) -> Follows:
    reasons = ahead.decision.reasons
    own = seen.measures.base_per_own(line.item.code)
    waste = Decimal(repr(reasons.expected_waste / float(own)))
    money = Decimal(repr(round(reasons.expected_waste_value, 2)))
    value = words.money(ahead.decision.value)
    return Follows(
        chance=_chance(reasons.stockout_chance_before_delivery, reasons.stockout_chance_with),
        waste=_waste(waste, line.item.unit, money if sees else None),
        runs_out=""
        if reasons.runs_out_on is None
        else _("runs out on %(day)s") % {"day": words.day_name(reasons.runs_out_on)},
        money=_("%(value)s for the line, %(per_unit)s")
        % {"value": value, "per_unit": _per_unit(line, seen.measures)}
        if sees
        else "",
        picture=picture_of(ahead, seen, line.item.name),
        others=tuple(others),
    )


def _per_unit(line: OrderLine, measures: Measures) -> str:
    price = line.price * line.priced_units
    return per_unit(price, line.item, Fraction(line.pack_base), measures)


def _chance(before: float, after: float) -> str:
    said = {
        "before": words.chance(Decimal(str(round(before, 3)))),
        "after": words.chance(Decimal(str(round(after, 3)))),
    }
    if before >= WORTH_DRAWING:
        return _("running out before it comes: %(before)s; afterwards: %(after)s") % said
    return _("running out before the next delivery: %(after)s") % said


def _waste(qty: Decimal, unit: str, money: Decimal | None) -> str:
    if qty <= words.NOTHING:
        return _("nothing of it is expected to go to waste")
    said = {"qty": words.quantity(qty, unit), "money": words.money(money or Decimal(0))}
    if money is None:
        return _("about %(qty)s expected to go to waste") % said
    return _("about %(qty)s expected to go to waste, %(money)s") % said


def what_is_missed(order: PurchaseOrder, *, as_of: datetime) -> tuple[Missed, ...]:
    """Of every line that the supplier cut short in an answer; ``order`` as ``order_for`` gives
    it. What a loaded order says of its lines was known when the others were drawn up."""
    answered = [line for line in order.lines.all() if line.answers.all()]
    short = [line for line in answered if (line.confirmed_cases or 0) < line.cases]
    wanted = [(line, int(open_cases(line))) for line in short]
    seen = look_ahead(order, wanted, as_of=as_of) if wanted else None
    if seen is None:
        return ()
    missing = {
        line.item_id: (line.cases - (line.confirmed_cases or 0)) * line.pack_base for line in short
    }
    others = who_else(order, missing, at=as_of)
    names, next_one = _Names.read(), _next_delivery(order, as_of)
    return tuple(
        _missed(
            line,
            seen,
            [one for one in others if one.offer.item_id == line.item_id],
            names,
            next_one,
        )
        for line in short
    )


@dataclass(frozen=True, slots=True)
class _Next:
    """The next delivery; ``assumed`` where none is known."""

    day: date
    assumed: bool = False

    @property
    def until(self) -> str:
        day = {"day": words.day_name(self.day)}
        if self.assumed:
            said = _("until %(day)s: no later delivery is known, so four weeks are assumed")
            return said % day
        return _("until the next delivery, %(day)s") % day


def _next_delivery(order: PurchaseOrder, as_of: datetime) -> _Next:
    """The day on which this supplier can bring more. An order that was not drawn up by a run
    (one that was loaded) does not say it; then the calendar does."""
    if order.next_delivery is not None:
        assumed = any(line.reasons.get("next_delivery_assumed") for line in order.lines.all())
        return _Next(order.next_delivery, assumed)
    slot = calendars().next_slot(order.supplier.code, order.location.code, as_of)
    days = (slot.delivery, *(day for _by, day in slot.later)) if slot else ()
    later = (day for day in days if day > order.delivery)
    known = next(later, None)
    return _Next(known) if known else _Next(order.delivery + DAYS_ASSUMED, assumed=True)


@dataclass(frozen=True, slots=True)
class _Names:
    items: dict[str, str]
    places: dict[str, str]

    @classmethod
    def read(cls) -> _Names:
        return cls(
            dict(Item.objects.values_list("code", "name")),
            dict(Location.objects.values_list("code", "name")),
        )


def _missed(
    line: OrderLine,
    seen: LookAhead,
    others: Sequence[Elsewhere],
    names: _Names,
    next_one: _Next,
) -> Missed:
    ends, until = next_one.day, next_one.until
    after = [one for one in seen.lines[line.pk].days if line.order.delivery <= one.day <= ends]
    days = [one.day for one in after if one.short >= WORTH_DRAWING]
    chance = max((one.short for one in after), default=0.0)
    if not days:
        told = _("%(item)s lasts until the next delivery all the same")
        if next_one.assumed:
            told = _("%(item)s lasts all the same, %(until)s")
        told %= {"item": line.item.name, "until": until}
        return Missed(line.item.name, told, until, (), tuple(others))
    said = {
        "item": line.item.name,
        "day": words.day_name(days[0]),
        "chance": words.chance(Decimal(str(round(chance, 3)))),
    }
    told = _("%(item)s may run out from %(day)s on: %(chance)s") % said
    stops = tuple(_fed(line, seen, days[0], ends, names))
    return Missed(line.item.name, told, until, stops, tuple(others))


def _fed(line: OrderLine, seen: LookAhead, first: date, ends: date, names: _Names) -> Iterator[str]:
    """The services fed from the item from ``first`` until the next delivery, in order."""
    kitchen = seen.run.inputs.kitchen
    items = leading_to(kitchen.recipes, [line.item.code])
    loads = [
        one for one in seen.plan.loads if one.item in items and first <= one.day < ends and one.stop
    ]
    sites = {stop.key: stop for stop in kitchen.stops}
    by_stop: dict[str, list[PlannedLoad]] = {}
    for load in sorted(loads, key=lambda one: (one.day, one.leaves, one.stop, one.item)):
        by_stop.setdefault(load.stop, []).append(load)
    for key, carried in by_stop.items():
        stop = sites[key]
        said = {
            "truck": names.places.get(stop.location, stop.location),
            "day": words.day_name(stop.day),
            "site": stop.site or _("a site"),
            "what": ", ".join(_amount(load, names.items, seen) for load in carried),
        }
        yield _("%(truck)s, %(day)s at %(site)s: %(what)s") % said


def _amount(load: PlannedLoad, names: dict[str, str], seen: LookAhead) -> str:
    own = seen.measures.base_per_own(load.item)
    qty = Decimal(repr(load.expected / float(own)))
    return f"{names[load.item]} {words.quantity(qty, seen.measures.own_unit(load.item))}"
