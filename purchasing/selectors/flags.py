"""What a buyer should look at before approving a draft: own, few, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from django.utils.translation import gettext as _

from inventory.fields import Money
from purchasing import words
from purchasing.engine.slots import DAYS_ASSUMED
from purchasing.models import OrderLine, PurchaseOrder

# A chance of running out that is worth a look before pressing approve (own choice).
HIGH_CHANCE = Decimal("0.20")
# By the use that nine paths of ten stay below.
NINE_OF_TEN = Decimal("0.9")
# A person's figure this far from ours, in cases and as a share of ours (own choice).
FAR = "far_from_ours"
FAR_CASES, FAR_SHARE = 2, Decimal("0.5")

_MONEY = frozenset({"below_minimum", "price_moved"})

Committed = Mapping[tuple[int, int, date], Decimal]


@dataclass(frozen=True, slots=True)
class Flag:
    """``line_id`` None: of the whole order."""

    code: str
    words: str
    line_id: int | None = None


def readable(flags: Iterable[Flag], *, sees: bool) -> tuple[Flag, ...]:
    """Those that a person may read; ``sees``: money as well."""
    return tuple(flag for flag in flags if sees or flag.code not in _MONEY)


def with_lines(orders: QuerySet[PurchaseOrder]) -> QuerySet[PurchaseOrder]:
    """Orders with supplier, place and lines; each line knows ``last_price``, what was paid
    for the same offer before. Two queries, however many orders."""
    before = OrderLine.objects.filter(
        offer=OuterRef("offer"),
        order__delivery__lt=OuterRef("order__delivery"),
        order__approved_at__isnull=False,
    ).exclude(order__status=PurchaseOrder.Status.CANCELLED)
    last = before.order_by("-order__delivery", "-pk").values("price")[:1]
    lines = OrderLine.objects.select_related("item", "offer", "order")
    lines = lines.annotate(last_price=Subquery(last, output_field=Money())).order_by(
        "item__name", "pk"
    )
    people = ("approved_by", "skipped_by")
    return orders.select_related("supplier", "location", "run", *people).prefetch_related(
        Prefetch("lines", queryset=lines)
    )


def committed(orders: Sequence[PurchaseOrder]) -> dict[tuple[int, int, date], Decimal]:
    """Money approved or later, by supplier, place and delivery day of these orders: minimums
    are judged on the sum. One query."""
    lines = OrderLine.objects.filter(
        order__in=PurchaseOrder.objects.on_order(),
        order__supplier__in={order.supplier_id for order in orders},
        order__delivery__in={order.delivery for order in orders},
    ).select_related("order")
    found: dict[tuple[int, int, date], Decimal] = {}
    for line in lines:
        key = line.order.supplier_id, line.order.location_id, line.order.delivery
        found[key] = found.get(key, Decimal(0)) + line.value
    return found


def value_of(order: PurchaseOrder) -> Decimal:
    return sum((line.value for line in order.lines.all()), Decimal(0))


def flags_of(
    order: PurchaseOrder, *, now: datetime, approved: Committed, alert_pct: Decimal
) -> tuple[Flag, ...]:
    """``order`` as ``with_lines`` gives it; none: it may be approved from the list."""
    lines = [line for line in order.lines.all() if line.cases or line.touched]
    return (
        *_of_order(order, now, approved),
        *(flag for line in lines for flag in _of_line(line, alert_pct)),
    )


def _of_order(order: PurchaseOrder, now: datetime, approved: Committed) -> Iterator[Flag]:
    closes = order.last_order_by or order.order_by
    if closes is not None and closes < now:
        yield Flag("past_cutoff", _("the cutoff is past"))
    minimum = order.supplier.minimum_order
    there = approved.get((order.supplier_id, order.location_id, order.delivery), Decimal(0))
    if minimum and value_of(order) + there < minimum:
        yield Flag(
            "below_minimum", _("below the minimum of %(money)s") % {"money": words.money(minimum)}
        )


def _of_line(line: OrderLine, alert_pct: Decimal) -> Iterator[Flag]:
    yield from _price_moved(line, alert_pct)
    reasons = words.Reasons(line.reasons)
    said = {"item": line.item.name}
    if line.cases and (days := reasons.days("cannot_cover")):
        said["days"] = words.listed(days)
        yield Flag("does_not_keep", _("%(item)s does not keep for %(days)s") % said, line.pk)
    else:
        yield from _may_run_out(line, reasons, said)
    yield from _tops_up(line, reasons)
    yield from _too_many(line, reasons)
    if _is_far(line):
        figures = {**said, "ours": line.our_cases or 0, "cases": line.cases}
        sentence = _("%(item)s: we would order %(ours)s; you have %(cases)s") % figures
        yield Flag(FAR, sentence, line.pk)


def _price_moved(line: OrderLine, alert_pct: Decimal) -> Iterator[Flag]:
    last: Decimal | None = getattr(line, "last_price", None)
    if not last or not line.cases:
        return
    moved = (line.price - last) / last * 100
    if abs(moved) > alert_pct:
        said = {
            "item": line.item.name,
            "old": words.money(last),
            "new": words.money(line.price),
            "per": line.priced_per,
        }
        sentence = _("%(item)s went from %(old)s to %(new)s a %(per)s") % said
        yield Flag("price_moved", sentence, line.pk)


def _may_run_out(
    line: OrderLine, reasons: words.Reasons, said: Mapping[str, str]
) -> Iterator[Flag]:
    """Before the delivery no figure on this order helps; after it, another case would."""
    before = reasons.amount("stockout_chance_before_delivery")
    after = reasons.amount("stockout_chance_with")
    if before >= HIGH_CHANCE:
        told = {**said, "chance": words.chance(before)}
        sentence = _("%(item)s may run out before this comes (%(chance)s)") % told
        yield Flag("may_run_out", sentence, line.pk)
    elif after >= HIGH_CHANCE:
        told = {**said, "chance": words.chance(after)}
        yield Flag("may_run_out", _("%(item)s may run out (%(chance)s)") % told, line.pk)


def _tops_up(line: OrderLine, reasons: words.Reasons) -> Iterator[Flag]:
    """Nobody looked yet at what is bought for the supplier's minimum and not for use."""
    extra = reasons.amount("minimum_top_up")
    if line.cases and not line.touched and extra > words.NOTHING:
        unit = reasons.word("unit") or line.item.unit
        said = {"item": line.item.name, "qty": words.quantity(extra, unit)}
        sentence = _("%(item)s: %(qty)s only to reach the minimum") % said
        yield Flag("minimum_top_up", sentence, line.pk)


def _too_many(line: OrderLine, reasons: words.Reasons) -> Iterator[Flag]:
    """A person's figure of which a case or more is left when it expires, even at the use that
    nine paths of ten stay below. No paths are drawn for it: a list has many lines."""
    ours, life = line.our_cases or 0, line.item.shelf_life_days
    known = "use_in_window_p90" in reasons.said
    if not line.touched or line.cases <= ours or life is None or not known:
        return
    case = _case(line, reasons)
    ordered, used = case * line.cases, _used_at_most(line, reasons, life)
    left = ordered - max(Decimal(0), used - max(Decimal(0), reasons.there_at_delivery))
    if case <= words.NOTHING or left < case:
        return
    unit = reasons.word("unit") or line.item.unit
    said = {
        "item": line.item.name,
        "left": words.quantity(left, unit),
        "ordered": words.quantity(ordered, unit),
        "chance": words.chance(NINE_OF_TEN),
        "day": words.day_name(line.order.delivery + timedelta(days=life)),
    }
    sentence = _(
        "%(item)s: %(left)s or more of %(ordered)s will go to waste (%(chance)s); it keeps to "
        "%(day)s"
    )
    yield Flag("too_many", sentence % said, line.pk)


def _case(line: OrderLine, reasons: words.Reasons) -> Decimal:
    """What a case holds in the item's unit; 0 where that is not known without its measures."""
    if line.pack_unit == reasons.word("unit"):
        return line.pack_qty
    parts = ("raw_need", "rounding", "minimum_top_up", "price_break_extra")
    ours = sum((reasons.amount(key) for key in parts), Decimal(0))
    return ours / line.our_cases if line.our_cases else Decimal(0)


def _used_at_most(line: OrderLine, reasons: words.Reasons, life: int) -> Decimal:
    """While it keeps, by the use of the days until the next delivery."""
    order = line.order
    window = (order.next_delivery - order.delivery).days if order.next_delivery else 0
    days = Decimal(life + 1) / max(1, window or DAYS_ASSUMED.days)
    return reasons.amount("use_in_window_p90") * max(Decimal(1), days)


def _is_far(line: OrderLine) -> bool:
    if not line.touched:
        return False
    ours = line.our_cases or 0
    return abs(line.cases - ours) >= max(Decimal(FAR_CASES), ours * FAR_SHARE)
