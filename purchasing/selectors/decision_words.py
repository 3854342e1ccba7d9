"""What was decided where there was a choice (R13), in sentences: the way taken, its reason, and
what the next best would have cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from purchasing import words
from purchasing.models import OrderLine, PurchaseOrder

CENT = Decimal("0.01")  # less is nothing to speak of


def decision_told(order: PurchaseOrder, *, sees: bool) -> str:
    """What was decided about the supplier's minimum. ``order`` with its lines; ``sees``: money
    is said. Empty where there was nothing to decide, or where a person has changed the lines
    since and it holds no more."""
    if any(line.touched for line in order.lines.all()):
        return ""
    ways = _ways(order, sees=sees)
    if order.decision not in ways:
        return ""
    weighed: Mapping[str, Any] = order.weighed or {}
    said = ways[order.decision]
    if not sees:
        return f"{said}."
    if order.decision == "cannot_meet_minimum":
        return f"{said}. {_alone(order.decision)}."
    if not weighed:
        return f"{said}: {_alone(order.decision)}."
    cost = _cost(weighed["taken"], Decimal(weighed["cost"]))
    instead = _next_best(weighed, order)
    return f"{said}: {cost}. {instead}."


def _ways(order: PurchaseOrder, *, sees: bool) -> dict[str, str]:
    least = words.money(order.supplier.minimum_order or Decimal(0)) if sees else ""
    fee = words.money(order.supplier.delivery_fee or Decimal(0)) if sees else ""
    day = _next_day(order)
    return {
        "topped_up": _("Topped up to the minimum of %(least)s") % {"least": least}
        if sees
        else _("Topped up to the minimum"),
        "wait": _("Better left to the delivery of %(day)s") % {"day": day},
        "fee_paid": _("Short of the minimum of %(least)s, with the fee of %(fee)s")
        % {"least": least, "fee": fee}
        if sees
        else _("Short of the minimum, with the fee"),
        "cannot_meet_minimum": _("They refuse less than the minimum: ring them"),
    }


def _next_day(order: PurchaseOrder) -> str:
    return words.day_name(order.next_delivery or order.delivery)


def _alone(decision: str) -> str:
    """Why there was no second way."""
    return {
        "cannot_meet_minimum": _("Nothing more would be used in time, and it cannot wait"),
        "topped_up": _("they refuse less, and it cannot wait"),
        "wait": _("they refuse less, and nothing more would be used in time"),
        "fee_paid": _("nothing more would be used in time, and it cannot wait"),
    }[decision]


def _cost(way: str, cost: Decimal) -> str:
    """What a way costs beyond the goods that are needed."""
    said = {"cost": words.money(cost)}
    if way == "fee_paid":
        return _("the fee costs least")
    if cost < CENT:
        return {
            "topped_up": _("what is added will be used, and costs nothing more"),
            "wait": _("every line lasts until then"),
        }[way]
    return {
        "topped_up": _("%(cost)s for what may be thrown away of it and for money tied up") % said,
        "wait": _("waiting costs %(cost)s of margin missed, on average") % said,
    }[way]


def _next_best(weighed: Mapping[str, Any], order: PurchaseOrder) -> str:
    said = {"cost": words.money(Decimal(weighed["instead_cost"])), "day": _next_day(order)}
    return {
        "topped_up": _("Next best: top up to the minimum, %(cost)s"),
        "wait": _("Next best: wait for %(day)s, %(cost)s of margin missed"),
        "fee_paid": _("Next best: pay the fee of %(cost)s"),
    }[weighed["instead"]] % said


@dataclass(frozen=True, slots=True)
class Sibling:
    """The other order's line of the same item at the same place."""

    supplier: str
    delivery: date


Siblings = Mapping[int, Sibling]  # by item


def siblings_of(order: PurchaseOrder) -> dict[int, Sibling]:
    """Of a draft's lines that were bridged or bridge. One query, none where nothing is."""
    items = [line.item_id for line in order.lines.all() if _weighed(line, "bridge")]
    if not items:
        return {}
    drafts = PurchaseOrder.objects.drafts().filter(location=order.location_id)
    lines = OrderLine.objects.filter(order__in=drafts, item__in=items, cases__gt=0)
    rows = lines.exclude(order=order).order_by("-order__delivery", "-pk")
    facts = rows.values_list("item", "order__supplier__name", "order__delivery")
    return {item: Sibling(supplier, day) for item, supplier, day in facts}


def siblings_among(orders: Iterable[PurchaseOrder]) -> dict[int, dict[int, Sibling]]:
    """The same for drafts that are read already, by order. No query."""
    found: dict[tuple[int, int], list[PurchaseOrder]] = defaultdict(list)
    for order in orders:
        for line in order.lines.all():
            if line.cases and _weighed(line, "bridge"):
                found[order.location_id, line.item_id].append(order)
    by_order: dict[int, dict[int, Sibling]] = defaultdict(dict)
    for (_place, item), both in found.items():
        for order in both:
            for other in both:
                if other.pk != order.pk:
                    by_order[order.pk][item] = Sibling(other.supplier.name, other.delivery)
    return by_order


def choices_told(order: PurchaseOrder, siblings: Siblings, *, sees: bool) -> tuple[str, ...]:
    """Everything that was decided of a draft, one sentence each: for a list of orders."""
    lines = [line for line in order.lines.all() if line.cases and not line.touched]
    said = (
        decision_told(order, sees=sees),
        _bridges_told(lines, order, siblings, sees=sees),
        _breaks_told(lines) if sees else "",
    )
    return tuple(sentence for sentence in said if sentence)


def _bridges_told(
    lines: Iterable[OrderLine], order: PurchaseOrder, siblings: Siblings, *, sees: bool
) -> str:
    found = [
        one
        for line in lines
        for one in _weighed(line, "bridge")
        if (other := siblings.get(line.item_id)) is None or other.delivery > order.delivery
    ]
    if not found:
        return ""
    said = ngettext(
        "One line is a bridge until the first choice can come",
        "%(n)d lines are bridges until the first choice can come",
        len(found),
    ) % {"n": len(found)}
    if not sees:
        return f"{said}."
    known = [one["instead_cost"] for one in found if one["instead_cost"] is not None]
    lost = sum((Decimal(cost) for cost in known), Decimal(0))
    cost = sum((Decimal(one["cost"] or 0) for one in found), Decimal(0))
    whole = {"cost": str(cost), "instead_cost": str(lost) if len(known) == len(found) else None}
    return f"{said}: {_bridge_cost(whole)}."


def _breaks_told(lines: Iterable[OrderLine]) -> str:
    taken = [one for line in lines for one in _weighed(line, "price_break")]
    if not taken:
        return ""
    saved = -sum((Decimal(one["cost"] or 0) for one in taken), Decimal(0))
    return ngettext(
        "One line takes more for a lower price, which saves %(saved)s.",
        "%(n)d lines take more for a lower price, which saves %(saved)s.",
        len(taken),
    ) % {"n": len(taken), "saved": words.money(saved)}


def line_told(
    line: OrderLine, order: PurchaseOrder, siblings: Siblings, *, sees: bool
) -> list[str]:
    """Of a bridge and of a lower price for more cases. Nothing where a person's figure stands."""
    if line.touched:
        return []
    found = list(_bridge(line, order, siblings.get(line.item_id), sees=sees))
    return [*found, *(_price_break(line) if sees else ())]


def _weighed(line: OrderLine, *ways: str) -> list[Mapping[str, str | None]]:
    rows = line.reasons.get("weighed") or ()
    return [one for one in rows if one["taken"] in ways]


def _bridge(
    line: OrderLine, order: PurchaseOrder, other: Sibling | None, *, sees: bool
) -> Iterator[str]:
    for one in _weighed(line, "bridge"):
        if other is not None and other.delivery < order.delivery:
            told = {"supplier": other.supplier, "day": f"{other.delivery:%a}"}
            yield _("%(supplier)s brings some on %(day)s, to last until then") % told
            return
        if other is not None:
            told = {"supplier": other.supplier, "day": f"{other.delivery:%a}"}
            said = _("a bridge until %(supplier)s can come on %(day)s") % told
        else:
            said = _("a bridge until the first choice can come")
        yield f"{said}: {_bridge_cost(one)}" if sees else said


def _bridge_cost(one: Mapping[str, str | None]) -> str:
    cost = Decimal(one["cost"] or 0)
    told = {"cost": words.money(abs(cost))}
    dearer = _("%(cost)s dearer") % told if cost >= CENT else _("no dearer")
    if one["instead_cost"] is None:
        return _("%(dearer)s; what running short costs is not known, its chance decided") % {
            "dearer": dearer
        }
    lost = words.money(Decimal(one["instead_cost"]))
    return _("%(dearer)s; running short until then would miss %(lost)s of margin") % {
        "dearer": dearer,
        "lost": lost,
    }


def _price_break(line: OrderLine) -> Iterator[str]:
    for one in _weighed(line, "price_break"):
        saved = words.money(-Decimal(one["cost"] or 0))
        told = {"saved": saved}
        yield _("saves %(saved)s, after what may be thrown away and money tied up") % told
    for one in _weighed(line, "as_needed"):
        cost = Decimal(one["instead_cost"] or 0)
        if cost >= CENT:
            told = {"cost": words.money(cost)}
            yield _("more for a lower price would cost %(cost)s in waste and money tied up") % told
